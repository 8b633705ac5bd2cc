#!/bin/sh
# The demo: emulated boards write an archive, the archive is checked, the report is named.
# Usage: run.sh OUTFOLDER, from the top folder; GAINSIEVE names the program.
set -u
out=${1:?"usage: run.sh OUTFOLDER"}
program=${GAINSIEVE:-build/gainsieve}

"$program" emulate --archive "$out/archive" --units 24 --seed 1 || exit $?
"$program" check --limits docs/demo/kittiwake.xml --index "$out/archive/index.csv" \
    --out "$out/report"
status=$?
# 1 says that boards failed, as some of these must; anything else is a fault of the demo.
[ "$status" -le 1 ] || exit "$status"
[ -s "$out/report/report.html" ] || { echo "demo: $out/report/report.html is missing" >&2; exit 5; }
echo
echo "Open $out/report/report.html in a browser."
