#!/bin/sh
# The demo: a batch of emulated boards is tested at an emulated bench, over the same TCP links as a real
# one; then the reports are written and named.
# Usage: run.sh OUTFOLDER, from the top folder; GAINSIEVE names the program.
set -u
out=${1:?"usage: run.sh OUTFOLDER"}
program=${GAINSIEVE:-build/gainsieve}
demo=$(dirname "$0")
mkdir -p "$out" || exit 5
rm -rf "$out/batch"

"$program" emulate --listen tcp:127.0.0.1:0 --seed 1 >"$out/ports" &
bench=$!
trap 'kill "$bench" 2>/dev/null; wait "$bench" 2>/dev/null' EXIT
trap 'exit 130' INT TERM HUP
for _ in 1 2 3 4 5 6 7 8 9 10; do
    [ "$(wc -l <"$out/ports")" -eq 3 ] && break
    kill -0 "$bench" 2>/dev/null || exit 4
    sleep 0.2
done

# The demo's bench file, with the ports that the emulated bench has just been given.
profiles=$(cd "$demo/../profiles" && pwd) || exit 3
sed_words="s#\.\./profiles#$profiles#"
while read -r instrument port; do
    sed_words="$sed_words;s#emulated:$instrument#$port#"
done <"$out/ports"
sed "$sed_words" "$demo/bench.xml" >"$out/bench.xml" || exit 5

seq -f 'KW%06.0f' 101 124 | "$program" run --limits "$demo/kittiwake.xml" --bench "$out/bench.xml" \
    --batch "$out/batch" --operator "demo"
status=$?
# 1 says that boards failed, as some of these must; anything else is a fault of the demo.
[ "$status" -le 1 ] || exit "$status"
"$program" audit --batch "$out/batch" || exit $?
"$program" report --batch "$out/batch"
status=$?
[ "$status" -le 1 ] || exit "$status"
[ -s "$out/batch/report.html" ] || { echo "demo: $out/batch/report.html is missing" >&2; exit 5; }
echo
echo "Open $out/batch/report.html in a browser."
