#!/bin/sh
# The report's folder: which unit pages are written, what an earlier report leaves, and what an index
# tells about time, operator and bench.
. tests/cli/helper.sh

write_limits
for serial in A B C; do
    sweep "in/${serial}_low.s2p" 10
    sweep "in/${serial}_high.s2p" 10
done
sweep in/B_high.s2p 1
check="check --limits $tmp/limits.xml --out $tmp/out"

# Every unit has a page, or those that are not PASS, or none; the batch page links to no other.
run 1 $check "$tmp/in"
[ "$(ls "$tmp/out/units" | tr '\n' ' ')" = "A.html B.html C.html " ] || fail "not every unit has a page"
has out/report.html 'href="units/A.html"'
run 1 $check --unit-pages failed "$tmp/in"
[ "$(ls "$tmp/out/units" | tr '\n' ' ')" = "B.html " ] || fail "not the failed unit's page alone"
lacks out/report.html 'href="units/A.html"'
has out/report.html 'href="units/B.html"'
run 1 $check --unit-pages none "$tmp/in"
[ -z "$(ls "$tmp/out/units")" ] || fail "a page of an earlier report is left"
lacks out/report.html 'href="units/'
has out/report.html '>B</th>'
refused 2 "--unit-pages some: write all, failed or none" $check --unit-pages some "$tmp/in"

# A board that is no longer in the archive keeps no PASS sheet; the user's own files stay.
run 1 $check "$tmp/in"
echo mine >"$tmp/out/mine.txt"
echo '<p>mine</p>' >"$tmp/out/units/mine.html"
rm "$tmp/in/A_low.s2p" "$tmp/in/A_high.s2p"
run 1 $check "$tmp/in"
[ ! -e "$tmp/out/units/A.html" ] || fail "the sheet of a board that is gone is left"
[ -e "$tmp/out/mine.txt" ] && [ -e "$tmp/out/units/mine.html" ] || fail "the user's files are gone"

# A mistake on the command line or in the limits costs nothing.
run 2 $check --nonsense "$tmp/in"
run 3 check --limits "$tmp/in/B_low.s2p" --out "$tmp/out" "$tmp/in"
run 3 check --limits "$tmp/limits.xml" --out "$tmp/out" "$tmp/nowhere"
[ -s "$tmp/out/report.html" ] || fail "the report is gone after a mistake"

# Time, operator and bench at the head and on the sheets; the digests are those of the files.
cat >"$tmp/in/index.csv" <<'END'
serial,attempt,bias,file,measured_at,operator,bench
B,1,low,B_low.s2p,2026-11-24T08:00:00Z,Ada,Bench 2
B,1,high,B_high.s2p,2026-11-24T08:01:00Z,Ada,Bench 2
C,1,low,C_low.s2p,2026-11-25,Grace,Bench 2
C,1,high,C_high.s2p,2026-11-25,Grace,Bench 2
END
run 1 $check --index "$tmp/in/index.csv"
has out/report.html "2026-11-24 to 2026-11-25"
has out/report.html "Ada, Grace"
has out/report.html "Bench 2"
has out/report.html "$(sha256sum <"$tmp/limits.xml" | cut -c1-64)"
has out/units/B.html "Measured: 2026-11-24T08:00:00Z. Operator: Ada. Bench: Bench 2."
has out/units/B.html "$(sha256sum <"$tmp/in/B_high.s2p" | cut -c1-64)"
has out/units/B.html "$(sha256sum <"$tmp/limits.xml" | cut -c1-64)"

# Serial numbers that differ in case alone have sheets on a disk that does not know case, and so has
# one that is a device's name; the links lead there.
for serial in kw1 KW1 con; do
    sweep "case/${serial}_low.s2p" 10
    sweep "case/${serial}_high.s2p" 10
done
run 0 $check "$tmp/case"
[ "$(ls "$tmp/out/units" | grep -v mine | LC_ALL=C sort | tr '\n' ' ')" = "%63on.html %6B%771.html KW1.html " ] ||
    fail "sheets of names that differ in case: $(ls "$tmp/out/units")"
has out/report.html 'href="units/%256B%25771.html">kw1</a>'
has out/report.html 'href="units/%2563on.html">con</a>'
has out/units/%6B%771.html '<h1 class="serial">kw1</h1>'

# The reference unit with the digests of its sweeps, also when no unit has a sheet; the version.
run 0 $check --reference KW1 "$tmp/case"
for page in report.html units/KW1.html; do
    has "out/$page" "Reference unit of the phase limits: KW1, attempt 1."
    has "out/$page" "$(sha256sum <"$tmp/case/KW1_high.s2p" | cut -c1-64)"
    has "out/$page" "Written by $("$program" --version)."
done
run 0 $check --reference KW1 --unit-pages none "$tmp/case"
has out/report.html "$(sha256sum <"$tmp/case/KW1_low.s2p" | cut -c1-64)"

# An attempt that was repeated keeps its time and operator, on the sheet and at the head.
sweep in/B2_low.s2p 10
sweep in/B2_high.s2p 10
cat >"$tmp/in/index.csv" <<'END'
serial,attempt,bias,file,measured_at,operator,bench
B,1,low,B_low.s2p,2026-11-20,Ada,Bench 2
B,1,high,B_high.s2p,2026-11-20,Ada,Bench 2
B,2,low,B2_low.s2p,2026-11-25,Grace,Bench 3
B,2,high,B2_high.s2p,2026-11-25,Grace,Bench 3
END
run 0 $check --index "$tmp/in/index.csv"
has out/report.html "<dd>2026-11-20 to 2026-11-25</dd>"
has out/report.html "<dd>Ada, Grace</dd>"
has out/units/B.html '<td class="name">2026-11-20</td><td class="words">Ada</td><td class="words">Bench 2</td></tr>'
has out/units/B.html '<td class="name">2026-11-25</td><td class="words">Grace</td><td class="words">Bench 3</td></tr>'
finish
