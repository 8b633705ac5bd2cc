#!/bin/sh
# What an archive holds beside what was judged is never passed over in silence.
. tests/cli/helper.sh

write_limits
sweep in/A_low.s2p 10
sweep in/A_high.s2p 10

# All is judged and passes: no words, status 0.
run 0 check --limits "$tmp/limits.xml" --out "$tmp/out" "$tmp/in"
[ ! -s "$tmp/stderr" ] || fail "words about nothing"

# A retest under a misspelt step: the unit passes by what was judged, and the file is named.
sweep in/A_High.s2p 2
run 0 check --limits "$tmp/limits.xml" --out "$tmp/out" "$tmp/in"
has stderr "1 sweep files are at no bias step of the limits and were not judged, the first is $tmp/in/A_High.s2p"
has out/report.html "A_High.s2p"

# A file that does not fit the layout may be a unit of its own: not every unit is known to pass.
rm "$tmp/in/A_High.s2p"
sweep in/B-low.s2p 2
run 1 check --limits "$tmp/limits.xml" --layout '{serial}_{bias}.s2p' --out "$tmp/out" "$tmp/in"
has stdout "1 units: 1 PASS"
has stderr "1 sweep files do not fit the layout and were left out, the first is $tmp/in/B-low.s2p"
has out/report.html "B-low.s2p"

# A linked folder is not followed, and that is said.
rm "$tmp/in/B-low.s2p"
mkdir "$tmp/elsewhere"
ln -s ../elsewhere "$tmp/in/C"
run 0 check --limits "$tmp/limits.xml" --out "$tmp/out" "$tmp/in"
has stderr "1 linked folders were not looked into"
rm "$tmp/in/C"

# A damaged sweep that no limit needs still makes the measurement incomplete.
sed 's/bias="all"/bias="high"/' "$tmp/limits.xml" >"$tmp/high.xml"
run 0 check --limits "$tmp/high.xml" "$tmp/in"
echo garbage >"$tmp/in/A_low.s2p"
run 1 check --limits "$tmp/high.xml" --out "$tmp/out" "$tmp/in"
has out/units.csv "A,1,INCOMPLETE"
has out/units.csv "A_low.s2p:1: "
finish
