#!/bin/sh
# Sees to it that the tests of the record find PostgreSQL's own programs (initdb, pg_ctl); they start
# a server of their own from them. MAY_INSTALL=yes lets it install them through apt as root;
# elsewhere it says what to install and stops. The cluster that Debian's package makes is not used.
set -eu

is_there() {
    if command -v initdb >/dev/null 2>&1 && command -v pg_ctl >/dev/null 2>&1; then
        return 0
    fi
    for program in /usr/lib/postgresql/*/bin/initdb; do
        if [ -x "$program" ]; then
            return 0
        fi
    done
    return 1
}

if is_there; then
    exit 0
fi
if [ "${MAY_INSTALL:-no}" = yes ] && [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null 2>&1; then
    echo "Installing postgresql through apt for the tests of the record ..."
    apt-get update -qq
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends postgresql >/dev/null
    if is_there; then
        exit 0
    fi
fi
echo "The tests of the record lack PostgreSQL's server programs (initdb, pg_ctl)." >&2
echo "Debian: sudo apt install postgresql" >&2
echo "Elsewhere: install PostgreSQL 15 or later the usual way, and have initdb on the path." >&2
exit 1
