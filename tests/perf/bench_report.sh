#!/usr/bin/env bash
# What a report costs: size and processor time on top of judging, for 2,000 and 10,000 units of five
# bias steps and 401 points. Prints the figures and fails when one is beyond what is promised.
# Usage: bench_report.sh [POINTS]; GAINSIEVE names the program, TMPDIR a place for 2 GB.
set -u
program=${GAINSIEVE:-build/gainsieve}
points=${1:-401}
limits=docs/demo/kittiwake.xml
tmp=$(mktemp -d "${TMPDIR:-/tmp}/gainsieve-bench-XXXXXX") || exit 1
trap 'rm -rf "$tmp"' EXIT
trap 'exit 1' INT TERM HUP
failed=0

# cpu ARGUMENT...: seconds of processor time of a check, the least of three.
cpu()
{
    least=
    for i in 1 2 3; do
        { TIMEFORMAT='%U %S'; time "$program" "$@" >/dev/null 2>&1; } 2>"$tmp/time"
        now=$(awk '{ print $1 + $2 }' "$tmp/time")
        least=$(echo "$now ${least:-$now}" | awk '{ print ($1 < $2) ? $1 : $2 }')
    done
    echo "$least"
}

# promise VALUE LARGEST WORDS
promise()
{
    echo "$1 $2" | awk '{ exit !($1 < $2) }' && return
    echo "bench: $3: $1 is not below $2"
    failed=1
}

# one UNITS LARGEST_BYTES LARGEST_SECONDS
one()
{
    "$program" emulate --archive "$tmp/boards" --units "$1" --points "$points" >/dev/null 2>&1
    archive="--limits $limits --jobs 1 --index $tmp/boards/index.csv"
    # shellcheck disable=SC2086 # words
    judging=$(cpu check $archive)
    # shellcheck disable=SC2086
    batch=$(cpu check $archive --unit-pages none --out "$tmp/out")
    # shellcheck disable=SC2086
    all=$(cpu check $archive --out "$tmp/out")
    bytes=$(wc -c <"$tmp/out/report.html")
    more=$(echo "$batch $judging" | awk '{ printf "%.2f", $1 - $2 }')
    sheets=$(echo "$all $batch" | awk '{ printf "%.2f", $1 - $2 }')
    echo "$1 units: judging $judging s, batch page and tables $more s more, unit pages $sheets s more;" \
        "report.html $bytes bytes"
    promise "$bytes" "$2" "bytes of report.html with $1 units"
    promise "$more" "$3" "seconds for the batch page of $1 units"
    rm -rf "$tmp/boards" "$tmp/out"
}

one 2000 3000000 1
one 10000 10000000 10
exit $failed
