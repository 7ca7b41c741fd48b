#!/bin/sh
# Sees to it that the browser tests find a Chromium. MAY_INSTALL=yes lets it install one through
# apt as root; elsewhere it says what to install and stops.
set -eu
for name in ${CHROMIUM:-} chromium chromium-browser google-chrome; do
    if command -v "$name" >/dev/null 2>&1; then
        exit 0
    fi
done
if [ "${MAY_INSTALL:-no}" = yes ] && [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
    echo "Installing Chromium through apt for the browser tests ..."
    apt-get update -qq
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends chromium >/dev/null
    exit 0
fi
echo "The browser tests need Chromium, and found none." >&2
echo "Debian: sudo apt install chromium" >&2
echo "Fedora: sudo dnf install chromium" >&2
echo "Elsewhere: install Chromium or Chrome and name it: CHROMIUM=/path/to/it make test" >&2
exit 1
