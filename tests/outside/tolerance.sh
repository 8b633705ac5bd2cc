#!/bin/sh
# tolerance.sh: tolerance factors and order statistics against r-mathlib, which it installs if it
# can (Debian, as root). BUILD names the folder of the built library. Ends with 1 on a difference.
# Reason: GSL has no non-central t, so the program's own needs a second one to be held against.
set -u
here=$(dirname "$0")
root=$here/../..
build=${BUILD:-build}
if ! [ -f /usr/include/Rmath.h ] && command -v apt-get >/dev/null && [ "$(id -u)" = 0 ]; then
    apt-get install -q -y --no-install-recommends r-mathlib >/dev/null 2>&1 ||
        { apt-get update -q >/dev/null 2>&1 &&
            apt-get install -q -y --no-install-recommends r-mathlib >/dev/null 2>&1; }
fi
if ! [ -f /usr/include/Rmath.h ]; then
    echo "tolerance: skipped: r-mathlib is not installed"
    exit 0
fi
if ! [ -f "$build/libgainsieve.a" ]; then
    echo "tolerance: $build/libgainsieve.a is not there: run make first"
    exit 1
fi
folder=$(mktemp -d "${TMPDIR:-/tmp}/gainsieve-tolerance-XXXXXX") || exit 1
trap 'rm -rf "$folder"' EXIT
trap 'exit 1' INT TERM HUP
${CC:-gcc} -std=c17 -D_GNU_SOURCE -O2 -Wall -Wextra -Werror -I"$root" -o "$folder/tolerance" "$here/tolerance.c" \
    "$build/libgainsieve.a" -lRmath $(pkg-config --libs gsl) -lm || exit 1
# r-mathlib prints warnings of its own into what the program says.
"$folder/tolerance" >"$folder/said" 2>&1
status=$?
grep -v '^full precision' "$folder/said"
exit "$status"
