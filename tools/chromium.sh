#!/bin/sh
# Sees to it that the browser tests find a Chromium, and what drives it can start. MAY_INSTALL=yes
# lets it install what lacks through apt as root; elsewhere it says what to install and stops.
# Usage: tools/chromium.sh DIR, the virtual environment.
set -eu
venv=$1

lacks() {
    browser=chromium
    for name in ${CHROMIUM:-} chromium chromium-browser; do
        if command -v "$name" >/dev/null 2>&1; then
            browser=''
        fi
    done
    driver=''
    if ! "$venv/bin/python" -m playwright --version >/dev/null 2>&1; then
        driver=libatomic1 # the driver's own JavaScript engine needs it
    fi
    echo $browser $driver
}

lacking=$(lacks)
if [ -z "$lacking" ]; then
    exit 0
fi
if [ "${MAY_INSTALL:-no}" = yes ] && [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
    echo "Installing $lacking through apt for the browser tests ..."
    apt-get update -qq
    # shellcheck disable=SC2086 - one word a package
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $lacking >/dev/null
    lacking=$(lacks)
    if [ -z "$lacking" ]; then
        exit 0
    fi
fi
echo "The browser tests lack: $lacking" >&2
echo "Debian: sudo apt install $lacking" >&2
echo "Elsewhere: install Chromium and libatomic the usual way; another Chromium is named with" >&2
echo "  CHROMIUM=/path/to/it make test" >&2
exit 1
