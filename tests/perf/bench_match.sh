#!/bin/sh
# bench_match.sh [SEED] [PLACES]: times of matching against what is promised, see bench_match.c.
# build/libgainsieve.a must be built; CC names the compiler.
set -u
cd "$(dirname "$0")/../.." || exit 1
folder=$(mktemp -d "${TMPDIR:-/tmp}/gainsieve-bench-XXXXXX") || exit 1
trap 'rm -rf "$folder"' EXIT
trap 'exit 1' INT TERM HUP
${CC:-gcc} -std=c17 -D_GNU_SOURCE -I. -O2 -o "$folder/bench" tests/perf/bench_match.c \
    build/libgainsieve.a -lm || exit 1
"$folder/bench" "$@"
