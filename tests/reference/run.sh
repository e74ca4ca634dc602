#!/bin/sh
# Holds a built trimwatch against the independent pipeline: sh tests/reference/run.sh BINARY [options of check.py]
# Python: the one in PATH if it has the pinned packages (the caller's virtual environment), else .venv of the
# repository, made when missing. Real music comes from a Debian package, kept in target/reference/; where it cannot
# be had its cases say SKIPPED.
set -eu

if [ $# -lt 1 ]; then
    echo "usage: sh tests/reference/run.sh BINARY [--only PATTERN] [--jobs N] [--failures]" >&2
    exit 2
fi
binary=$1
shift
here=$(cd "$(dirname "$0")" && pwd)
root=$(cd "$here/../.." && pwd)
cache=$root/target/reference
music=$cache/music
package=tuxmath-data # 9 MB, four pieces of music in Ogg Vorbis; a plain choice: small and in every Debian and Ubuntu

has_packages() {
    "$1" - "$here/requirements.txt" 2>/dev/null <<'END'
import sys
from importlib.metadata import version
pins = (line.strip().split("==") for line in open(sys.argv[1]) if "==" in line)
sys.exit(any(version(name) != wanted for name, wanted in pins))
END
}

find_python() {
    for python in python3 "$root/.venv/bin/python"; do
        if has_packages "$python"; then
            return 0
        fi
    done
    echo "Making a virtual environment for the reference pipeline in $root/.venv"
    python=$root/.venv/bin/python
    if python3 -m venv "$root/.venv" && "$python" -m pip install --quiet --disable-pip-version-check \
        -r "$here/requirements.txt"; then
        return 0
    fi
    echo "The reference pipeline needs Python 3.11 or newer with venv and pip (Debian: apt-get install python3-venv)" \
        "and the packages of tests/reference/requirements.txt." >&2
    exit 2
}

# Unpacked beside the system, not installed. Quiet about its failure: the table says SKIPPED.
fetch_music() {
    [ -d "$music" ] && return 0
    command -v apt-get >/dev/null 2>&1 || return 0
    mkdir -p "$cache"
    rm -rf "$cache/download"
    mkdir "$cache/download"
    (
        cd "$cache/download"
        timeout 120 apt-get -q download "$package" >/dev/null 2>&1 ||
            { timeout 120 apt-get -q update >/dev/null 2>&1 && timeout 120 apt-get -q download "$package" >/dev/null 2>&1; } ||
            exit 0
        dpkg -x "$package"_*.deb unpacked
    )
    if [ -d "$cache/download/unpacked" ]; then
        mv "$cache/download/unpacked" "$music"
    fi
    rm -rf "$cache/download"
}

find_python
fetch_music
# One thread a job: the jobs share the cores.
OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 PYTHONDONTWRITEBYTECODE=1 \
    exec "$python" "$here/check.py" "$binary" --music "$music" "$@"
