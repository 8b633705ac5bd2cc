#!/bin/sh
# match.sh [SEED...]: arrangements in sets against an integer program solved by GLPK: no arrangement
# has a cheaper worst set, none with that worst set a smaller sum. Installs glpk-utils as root if it
# is missing. CC names the compiler; build/libgainsieve.a must be built. Not part of `make test`.
# Closing line: "N passed, M failed".
set -u
cd "$(dirname "$0")/../.." || exit 1
[ $# -gt 0 ] || set -- 1 2 3
if ! command -v glpsol >/dev/null; then
    { apt-get update -q && apt-get install -q -y --no-install-recommends glpk-utils; } \
        >/dev/null 2>&1
fi
if ! command -v glpsol >/dev/null; then
    echo "match: skipped: glpsol is not installed (Debian: glpk-utils)"
    exit 0
fi
folder=$(mktemp -d "${TMPDIR:-/tmp}/gainsieve-match-XXXXXX") || exit 1
trap 'rm -rf "$folder"' EXIT
trap 'exit 1' INT TERM HUP
${CC:-gcc} -std=c17 -D_GNU_SOURCE -I. -O2 -o "$folder/model" tests/outside/match_model.c \
    build/libgainsieve.a -lm || exit 1

# objective MODEL: the value of the proven optimum, or nothing.
objective()
{
    glpsol --lp "$folder/$1" --tmlim 300 -o "$folder/answer" >"$folder/said" 2>&1 || return
    awk '/^Status:.*INTEGER OPTIMAL/ { optimal = 1 }
         /^Objective:/ && optimal { print $4 }' "$folder/answer"
}

# one BOARDS SIZE SEED KIND
one()
{
    answer=$("$folder/model" "$1" "$2" "$3" "$4" "$folder") || return 1
    cheaper=$(objective cheaper.lp)
    sum=$(objective sum.lp)
    echo "match: $1 of $2, seed $3, $4: sets and sum $answer; by integer program" \
        "${cheaper:-nothing} cheaper sets, sum ${sum:-nothing}"
    [ -n "$cheaper" ] && [ -n "$sum" ] || return 1
    echo "$answer $cheaper $sum" |
        awk '{ off = $4 / $2 - 1; exit !($3 < $1 - 0.5 && off < 1e-6 && off > -1e-6) }'
}

passed=0
failed=0
for seed in "$@"; do
    for case in "16 4 smooth" "18 4 noise" "19 3 noise" "20 5 smooth" "24 3 smooth" "24 4 smooth" \
        "24 4 noise"; do
        # shellcheck disable=SC2086 # words
        set -- $case
        if one "$1" "$2" "$seed" "$3"; then
            passed=$((passed + 1))
        else
            failed=$((failed + 1))
        fi
    done
done
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
