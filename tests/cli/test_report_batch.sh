#!/bin/sh
# `report` and `check` on a batch record: the verdicts of the night, whatever way they are asked
# for, and other ones by other limits. The batch is made by a unit test's program, see
# tests/batch_fixture.h for what is in it.
. tests/cli/helper.sh

maker=$(dirname "$program")/tests/unit/test_batch_check
[ -x "$maker" ] || fail "$maker is missing: make unit-tests"
"$maker" --make "$tmp" || fail "no batch could be made"
batch=$tmp/batch

refused 2 "report needs --batch DIR" report
refused 2 "report needs --batch DIR and no other path" report --batch "$batch" "$tmp"
refused 2 "--unit-pages some" report --batch "$batch" --unit-pages some
refused 3 "is no batch" report --batch "$tmp"
refused 2 "--batch takes no PATH" check --batch "$batch" "$tmp"
refused 2 "--batch takes no PATH" check --batch "$batch" --reference KW1

# Nothing is written into the batch unless it is asked for.
run 1 check --batch "$batch"
has stdout "Judged anew: 7 attempts, the same verdicts as recorded"
has stdout "4 units: 2 PASS, 1 FAIL, 1 INCOMPLETE"
has stderr "2 attempts marked as wrongly connected and not counted: KW2 attempt 2, KW4 attempt 1; 1 unit has no other"
[ ! -e "$batch/units.csv" ] || fail "check wrote into the batch"

# The reports, the same with any number of threads; the audit knows them.
run 0 report --batch "$batch" --jobs 1
has stdout "Report: $batch/report.html"
mkdir "$tmp/one"
cp -r "$batch/units" "$batch"/*.csv "$batch/report.html" "$tmp/one"
run 0 report --batch "$batch" --jobs 2
mkdir "$tmp/two"
cp -r "$batch/units" "$batch"/*.csv "$batch/report.html" "$tmp/two"
same one two
no_halves batch
run 0 audit --batch "$batch"
cut -d, -f1-4 "$batch/units.csv" | tr -d '\r' >"$tmp/verdicts"
cat >"$tmp/wanted" <<'WANTED'
serial,attempt,verdict,limits_failed
KW1,1,FAIL,1
KW1,2,PASS,0
KW2,1,FAIL,1
KW3,1,PASS,0
KW5,1,INCOMPLETE,0
WANTED
same wanted verdicts
[ "$(ls "$batch/units" | tr '\n' ' ')" = "KW1.html KW2.html KW3.html KW5.html " ] ||
    fail "not a page a unit: $(ls "$batch/units")"
has batch/report.html "marked as wrongly connected"
has batch/report.html "N. N."
has batch/report.html "bench.xml "
has batch/units/KW1.html "$(sha256sum <"$batch/sweeps/KW1/2/low.s2p" | cut -d' ' -f1)"
run 0 report --batch "$batch" --unit-pages failed
[ "$(ls "$batch/units" | tr '\n' ' ')" = "KW2.html KW5.html " ] || fail "pages of units that pass"

# The index opens the batch as an archive: the same tables but for why a sweep is missing.
run 1 check --limits "$batch/limits.xml" --index "$batch/index.csv" --out "$tmp/archive"
for table in units results; do
    grep -v '^KW5' "$batch/$table.csv" >"$tmp/$table.batch"
    grep -v '^KW5' "$tmp/archive/$table.csv" >"$tmp/$table.archive"
    same "$table.batch" "$table.archive"
done
has archive/units.csv "KW5,1,INCOMPLETE"

# Other limits: which units change, and nothing in the batch.
cp -r "$batch" "$tmp/before"
run 1 check --batch "$batch" --limits "$tmp/new.xml" --out "$tmp/out"
has stdout "KW3: PASS -> FAIL: gain: gain 18.50 dB at 170 MHz"
has stdout "1 of 4 units change by these limits; 1 PASS -> FAIL"
has stdout "4 units: 1 PASS, 2 FAIL, 1 INCOMPLETE; yield 25.0 %"
has out/units.csv "KW3,1,FAIL"
[ ! -e "$tmp/out/index.csv" ] || fail "an index outside the batch"
cp "$batch/batch.lock" "$tmp/before" # who looked last
same before batch
run 1 check --batch "$batch" --limits "$batch/limits.xml"
has stdout "0 of 4 units change by these limits"

# Limits that changed on the way: everybody keeps the verdict of the night.
"$maker" --change "$tmp" || fail "the batch could not be gone on with"
run 0 report --batch "$batch"
has batch/units.csv "KW3,1,PASS"
has batch/units.csv "KW6,1,FAIL"
has batch/units.csv "KW7,1,PASS"
has stderr "4 units were judged by earlier limits of the batch and keep that verdict"
has batch/report.html "4 units were judged by earlier limits"
has batch/units/KW3.html "$(sha256sum <"$tmp/limits.xml" | cut -d' ' -f1)"
has batch/units/KW6.html "$(sha256sum <"$tmp/new.xml" | cut -d' ' -f1)"
run 0 audit --batch "$batch"
run 1 check --batch "$batch" --limits "$tmp/limits.xml"
has stdout "KW6: FAIL -> PASS: recorded as not accepted: gain"
has stdout "6 units: 4 PASS, 1 FAIL, 1 INCOMPLETE"

# A folder that is copied, and one that cannot be written.
cp -r "$batch" "$tmp/copy"
run 0 report --batch "$tmp/copy"
if [ "$(id -u)" -ne 0 ]; then
    chmod -R a-w "$tmp/copy"
    run 1 check --batch "$tmp/copy"
    run 5 report --batch "$tmp/copy"
    chmod -R u+w "$tmp/copy"
fi

# What was recorded and what was measured must belong together.
"$maker" --forge "$tmp" "UPDATE finding SET value = value + 0.5 WHERE n = 3 AND place = 0"
rm "$batch/units.csv"
refused 3 "KW3, attempt 1, limit gain: recorded is a value of " report --batch "$batch"
[ ! -e "$batch/units.csv" ] || fail "a report of a record that contradicts itself"
refused 3 "KW3, attempt 1, limit gain" check --batch "$batch"
"$maker" --forge "$tmp" "UPDATE finding SET value = value - 0.5 WHERE n = 3 AND place = 0"
run 0 report --batch "$batch"

# One altered byte of a sweep, in its comment.
sed '1s/KW2/KX2/' "$batch/sweeps/KW2/1/low.s2p" >"$tmp/altered"
cmp -s "$tmp/altered" "$batch/sweeps/KW2/1/low.s2p" && fail "nothing was altered"
cp "$tmp/altered" "$batch/sweeps/KW2/1/low.s2p"
for jobs in 1 2; do
    refused 3 "sweeps/KW2/1/low.s2p: is not the file that was recorded" report --batch "$batch" --jobs $jobs
    refused 3 "sweeps/KW2/1/low.s2p" check --batch "$batch" --limits "$tmp/new.xml" --jobs $jobs
done
rm "$batch/sweeps/KW2/1/low.s2p"
refused 3 "sweeps/KW2/1/low.s2p" report --batch "$batch"
finish
