#!/bin/sh
# Files that cannot be read among many that can: their units are INCOMPLETE with the reason, the
# rest is judged as if they were alone.
. tests/cli/helper.sh

write_limits
for unit in A B C D E F; do
    sweep "in/${unit}_low.s2p" 10
    sweep "in/${unit}_high.s2p" 10
done
sweep in/G_low.s2p 10
sweep in/G_high.s2p 2
echo garbage >"$tmp/in/B_low.s2p"
: >"$tmp/in/C_high.s2p"
ln -sf nowhere "$tmp/in/D_high.s2p"
head -c 60 "$tmp/in/A_low.s2p" >"$tmp/in/E_low.s2p"
mv "$tmp/in/F_high.s2p" "$tmp/in/F_hihg.s2p"

run 1 check --limits "$tmp/limits.xml" --out "$tmp/out" "$tmp/in"
has stderr "1 sweep files are at no bias step of the limits and were not judged"
cut -d, -f1,3 "$tmp/out/units.csv" | tail -n +2 >"$tmp/verdicts"
printf '%s\n' A,PASS B,INCOMPLETE C,INCOMPLETE D,INCOMPLETE E,INCOMPLETE F,INCOMPLETE G,FAIL \
    >"$tmp/wanted"
same verdicts wanted
has out/units.csv "in/B_low.s2p:1: "
has out/units.csv "in/C_high.s2p:"
has out/units.csv "in/D_high.s2p: cannot be opened"
has out/units.csv "in/E_low.s2p:3: "
has out/units.csv "in/F_hihg.s2p: \"\"hihg\"\" is no bias step of the limits"

# The units beside them are judged as without them.
mkdir "$tmp/few"
cp "$tmp/in/A_low.s2p" "$tmp/in/A_high.s2p" "$tmp/in/G_low.s2p" "$tmp/in/G_high.s2p" "$tmp/few"
run 1 check --limits "$tmp/limits.xml" --out "$tmp/few-out" "$tmp/few"
grep -e '^A,' -e '^G,' "$tmp/out/results.csv" >"$tmp/among"
grep -e '^A,' -e '^G,' "$tmp/few-out/results.csv" >"$tmp/alone"
same among alone

# A file that may not be read. Root may read everything.
if [ "$(id -u)" -eq 0 ]; then
    echo "$name: a file without read permission is not tried: root may read it"
else
    chmod 000 "$tmp/in/A_low.s2p"
    run 1 check --limits "$tmp/limits.xml" "$tmp/in"
    has stdout "in/A_low.s2p: cannot be opened: Permission denied"
fi

# Two files of one unit and bias are an error that names both.
sweep in/again/A_2.00V.s2p 10
refused 3 "in/A_low.s2p and $tmp/in/again/A_2.00V.s2p both claim serial A" \
    check --limits "$tmp/limits.xml" "$tmp/in"
finish
