#!/bin/sh
# run.sh [SEED...]: the program against the outside evaluator on random archives, after the
# evaluator's own tests. GAINSIEVE names the program. Closing line: "N passed, M failed".
# Reason: judgement is proved by a second one that shares no line with it.
set -u
here=$(dirname "$0")
gainsieve=${GAINSIEVE:-build/gainsieve}
python=/usr/bin/python3
export PYTHONDONTWRITEBYTECODE=1
[ $# -gt 0 ] || set -- 1 2 3 4 5
if [ ! -x "$python" ]; then
    echo "outside: skipped: $python is not installed"
    exit 0
fi
folder=$(mktemp -d "${TMPDIR:-/tmp}/gainsieve-outside-XXXXXX") || exit 1
trap 'rm -rf "$folder"' EXIT
trap 'exit 1' INT TERM HUP

# one_seed SEED: generates, checks, evaluates, compares.
one_seed()
{
    mkdir "$folder/$1" && "$python" "$here/generate.py" "$folder/$1" "$1" || return 1
    "$gainsieve" check --limits "$folder/$1/limits.xml" --out "$folder/$1/out" \
        "$folder/$1/archive" >"$folder/$1/said" 2>&1
    status=$?
    if [ "$status" -gt 1 ]; then
        echo "outside: check ended with status $status:"
        tail -n 5 "$folder/$1/said"
        return 1
    fi
    "$python" "$here/evaluate.py" "$folder/$1/limits.xml" "$folder/$1/archive" \
        "$folder/$1/expected.csv" || return 1
    "$python" "$here/compare.py" "$folder/$1/out/results.csv" "$folder/$1/expected.csv"
}

passed=0
failed=0
if "$python" "$here/selftest.py"; then passed=1; else failed=1; fi
for seed in "$@"; do
    echo "outside: seed $seed"
    if one_seed "$seed"; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
    fi
    rm -rf "${folder:?}/$seed"
done
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
