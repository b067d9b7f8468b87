#!/bin/sh
# Makes the virtual environment .venv with a Python that Colophony runs on.
# PYTHON=... chooses another; a .venv that works already is left as it is.
set -eu

is_suitable() {
    "$1" -c 'import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 13))' >/dev/null 2>&1
}

if [ -x .venv/bin/python ] && is_suitable .venv/bin/python && .venv/bin/python -m pip --version >/dev/null 2>&1; then
    exit 0
fi

chosen=
for candidate in ${PYTHON:-python3 python3.13 python3.12 python3.11 python}; do
    if is_suitable "$candidate"; then
        chosen=$candidate
        break
    fi
done
if [ -z "$chosen" ]; then
    echo "No suitable Python: Colophony needs 3.11, 3.12 or 3.13, and ${PYTHON:-this machine} has none of them." >&2
    echo "Install one, or name it: make setup PYTHON=/path/to/python3.12" >&2
    exit 1
fi
if ! "$chosen" -c 'import ensurepip, venv' >/dev/null 2>&1; then
    echo "$chosen cannot make a virtual environment. On Debian or Ubuntu: sudo apt install python3-venv, then again." >&2
    exit 1
fi
echo "Making .venv with $("$chosen" --version) ..."
rm -rf .venv
"$chosen" -m venv .venv
