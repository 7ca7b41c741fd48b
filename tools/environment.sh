#!/bin/sh
# Makes the environment: finds a Python, makes a virtual environment, installs what the lock says.
# Usage: tools/environment.sh DIR. MAY_INSTALL=yes lets it install python3-venv through apt as root.
set -eu
venv=$1

new_enough='import sys; sys.exit(sys.version_info < (3, 11))'
python=''
for candidate in ${PYTHON:-} python3.11 python3.12 python3.13 python3.14 python3 python; do
    if command -v "$candidate" >/dev/null 2>&1 && "$candidate" -c "$new_enough" 2>/dev/null; then
        python=$candidate
        break
    fi
done
if [ -z "$python" ]; then
    echo "Bedstone needs Python 3.11 or later, and found none." >&2
    echo "Debian 12, Ubuntu 24.04: sudo apt install python3 python3-venv" >&2
    echo "Elsewhere: install it the usual way, or name it: make PYTHON=/path/to/python3.11" >&2
    exit 1
fi

if ! "$python" -c 'import ensurepip, venv' 2>/dev/null; then
    if [ "${MAY_INSTALL:-no}" = yes ] && [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
        echo "Installing python3-venv through apt ..."
        apt-get update -qq
        DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends python3-venv >/dev/null
    else
        echo "$python cannot make a virtual environment: its venv module is missing." >&2
        echo "Debian, Ubuntu: sudo apt install python3-venv" >&2
        exit 1
    fi
fi

if ! [ -x "$venv/bin/python" ] || ! "$venv/bin/python" -c "$new_enough" 2>/dev/null; then
    rm -rf "$venv"
    "$python" -m venv "$venv"
fi
echo "Installing what Bedstone needs into $venv (by the hashes in requirements.lock) ..."
"$venv/bin/python" -m pip install --quiet --disable-pip-version-check --no-deps --require-hashes \
    -r requirements.lock
"$venv/bin/python" -m pip install --quiet --disable-pip-version-check --no-deps \
    --no-build-isolation --no-index --editable .
echo "Compiling the search of a day and the cooler's bed, once on this machine: about a minute ..."
"$venv/bin/python" tools/warm.py
