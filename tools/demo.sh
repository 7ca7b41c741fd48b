#!/bin/sh
# The demo: a made-up mill, the plan of its day with papers, and its pages.
# Usage: tools/demo.sh BIN DIR SEED PORT SERVE
set -eu
bin=$1 dir=$2 seed=$3 port=$4 serve=$5

if [ -e "$dir" ]; then
    if ! [ -f "$dir/mill.toml" ]; then
        echo "$dir is there already and is no mill folder; name another: make demo DEMO=..." >&2
        exit 1
    fi
    echo "Replacing the demo mill in $dir ..."
    rm -rf "$dir"
fi
"$bin/bedstone" demo "$dir" --seed "$seed"
day=$("$bin/python" -c 'import sys, tomllib; print(tomllib.load(open(sys.argv[1], "rb"))["day"])' "$dir/demo.toml")
echo
"$bin/bedstone" plan "$dir" --day "$day"
echo
if [ "$serve" = no ]; then
    echo "To look at the pages: $bin/bedstone serve $dir --port $port"
    exit 0
fi
exec "$bin/bedstone" serve "$dir" --port "$port"
