#!/bin/sh
# The same bytes whatever the number of threads, the order of the paths, or the locale.
. tests/cli/helper.sh

limits=docs/demo/kittiwake.xml
run 0 emulate --archive "$tmp/boards" --units 12 --seed 3 --points 101
for jobs in 1 2 5; do
    run 1 check --limits $limits --jobs $jobs --out "$tmp/out" --index "$tmp/boards/index.csv"
    mv "$tmp/stdout" "$tmp/words$jobs"
    mv "$tmp/out" "$tmp/jobs$jobs"
done
same jobs1 jobs2
same jobs1 jobs5
same words1 words2
same words1 words5

# Single files, named from the last to the first. The head of the report names them, the tables do
# not.
files=$(find "$tmp/boards" -name '*.s2p' | sort -r)
# shellcheck disable=SC2086 # a word a file
run 1 check --limits $limits --out "$tmp/files" $files
run 1 check --limits $limits --out "$tmp/folder" "$tmp/boards"
same files/units.csv folder/units.csv
same files/results.csv folder/results.csv
same files/units folder/units

# A locale with a decimal comma, made here when the system can; its name alone otherwise.
if command -v localedef >/dev/null 2>&1 &&
    localedef -i de_DE -f UTF-8 "$tmp/de_DE.UTF-8" >/dev/null 2>&1; then
    LOCPATH=$tmp
    export LOCPATH
else
    echo "$name: the decimal comma is not tried: localedef cannot make de_DE"
fi
LC_ALL=de_DE.UTF-8
export LC_ALL
run 1 check --limits $limits --out "$tmp/out" --index "$tmp/boards/index.csv"
cp "$tmp/stdout" "$tmp/words"
same words1 words
same jobs1 out
run 0 export "$tmp/boards/KW000101_low.s2p"
cp "$tmp/stdout" "$tmp/comma.csv"
LC_ALL=C
run 0 export "$tmp/boards/KW000101_low.s2p"
cp "$tmp/stdout" "$tmp/point.csv"
same point.csv comma.csv
finish
