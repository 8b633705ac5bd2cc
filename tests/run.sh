#!/bin/sh
# Runs the unit tests named as arguments, then every tests/cli/test_*.sh. GAINSIEVE names the program.
# Prints each program's own lines, and at the end "N passed, M failed" over test programs. Four run at
# once (JOBS says otherwise): most of their time they wait, as instruments make one wait.
set -u
jobs=${JOBS:-4}
tmp=$(mktemp -d "${TMPDIR:-/tmp}/gainsieve-tests-XXXXXX") || exit 1
trap 'rm -rf "$tmp"' EXIT
trap 'exit 1' INT TERM HUP

# One test: its lines go to a file, and stand there whole when its status does.
cat >"$tmp/one" <<'END'
log=$1/$(basename "$2")
case "$2" in
    *.sh) sh "$2" ;;
    *) "$2" ;;
esac >"$log.part" 2>&1
status=$?
mv "$log.part" "$log.log"
cat "$log.log"
[ "$status" -eq 0 ] || echo "$2" >"$log.failed"
echo "$2" >"$log.done"
END

for test in "$@" tests/cli/test_*.sh; do
    [ -e "$test" ] && printf '%s\n' "$test"
done >"$tmp/list"
# The longest first, so that none of them is what everybody waits for at the end.
{
    grep -e cli/test_kill -e cli/test_run -e test_analyser -e test_instrument "$tmp/list"
    grep -v -e cli/test_kill -e cli/test_run -e test_analyser -e test_instrument "$tmp/list"
} | xargs -P "$jobs" -I '{}' sh "$tmp/one" "$tmp" '{}'

wanted=$(wc -l <"$tmp/list")
failed=$(find "$tmp" -name '*.failed' | wc -l)
passed=$(($(find "$tmp" -name '*.done' | wc -l) - failed))
# One that was ended with its shell has neither.
failed=$((wanted - passed))
[ "$failed" -eq 0 ] || echo "failed:" $(cat "$tmp"/*.failed 2>/dev/null)
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ] && [ "$passed" -gt 0 ]
