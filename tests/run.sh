#!/bin/sh
# Runs the unit tests named as arguments, then every tests/cli/test_*.sh. GAINSIEVE names the program.
# Prints each program's own lines, and at the end "N passed, M failed" over test programs.
set -u
passed=0
failed=0
names=
for test in "$@" tests/cli/test_*.sh; do
    [ -e "$test" ] || continue
    case "$test" in
        *.sh) sh "$test" ;;
        *) "$test" ;;
    esac
    if [ $? -eq 0 ]; then
        passed=$((passed + 1))
    else
        failed=$((failed + 1))
        names="$names $test"
    fi
done
[ -z "$names" ] || echo "failed:$names"
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]
