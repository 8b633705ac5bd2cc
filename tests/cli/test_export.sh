#!/bin/sh
# `export`: an export of an export is the same, byte for byte; CSV and Touchstone hold the same
# numbers; what is exported from a broken file is nothing.
. tests/cli/helper.sh

# round NAME FILE: both formats of the file, and each again from both.
round()
{
    for format in csv s2p; do
        run 0 export --format $format "$2"
        cp "$tmp/stdout" "$tmp/$1.$format"
    done
    for from in csv s2p; do
        for to in csv s2p; do
            run 0 export --format $to "$tmp/$1.$from"
            cp "$tmp/stdout" "$tmp/again.$to"
            same "$1.$to" "again.$to"
        done
    done
}

run 0 emulate --archive "$tmp/boards" --units 1 --points 21
for file in "$tmp"/boards/*_low.s2p "$tmp"/boards/*_high.s2p; do
    round board "$file"
done
sweep ma.s2p 3.14159
round ma "$tmp/ma.s2p"
printf '# GHz S DB R 50\n0.1 -3 45 -200.5 1e-3 0.25 -179.9 -1 0\n' >"$tmp/db.s2p"
round db "$tmp/db.s2p"
# Numbers with 17 digits, the largest and the smallest.
printf '# Hz S RI R 50\n1 0.1 0.30000000000000004\n2 1e-308 5e-324\n3 1e15 -0.0\n' >"$tmp/worst.s1p"
run 0 export --format csv "$tmp/worst.s1p"
has stdout "1,0.1,0.30000000000000004"
has stdout "5e-324"
cp "$tmp/stdout" "$tmp/worst.csv"
run 0 export "$tmp/worst.csv"
cp "$tmp/stdout" "$tmp/again.csv"
same worst.csv again.csv

# CSV is the default, with the header of the format.
run 0 export "$tmp/ma.s2p"
cp "$tmp/stdout" "$tmp/default.csv"
same ma.csv default.csv
head -n 1 "$tmp/ma.csv" | tr -d '\r' >"$tmp/head"
echo frequency_hz,s11_re,s11_im,s21_re,s21_im,s12_re,s12_im,s22_re,s22_im >"$tmp/wanted"
same head wanted

# A CSV refers to 50 ohm, and says when the sweep did not. By hand: a short circuit stays -1, and
# a 75 ohm load, 0 at 75 ohm, is (75 - 50) / (75 + 50) = 0.2.
printf '# MHz S RI R 75\n1 -1 0\n2 0 0\n' >"$tmp/r75.s1p"
run 0 export "$tmp/r75.s1p"
has stderr "r75.s1p: brought to 50 ohm"
tr -d '\r' <"$tmp/stdout" | awk -F, '
    NR == 2 { ok = $2 > -1.000000001 && $2 < -0.999999999 }
    NR == 3 { ok = ok && $2 > 0.199999999 && $2 < 0.200000001 }
    END { exit !(ok && NR == 3) }' || fail "75 ohm is not brought to 50 ohm"
run 0 export --format s2p "$tmp/r75.s1p"
has stdout "[Reference] 75"

# A file that cannot be read gives its line and no output.
printf '# MHz S RI R 50\n1 0 0\n2 0 x\n' >"$tmp/broken.s1p"
refused 3 "broken.s1p:3: " export "$tmp/broken.s1p"
refused 3 "none.s1p: cannot be opened" export "$tmp/none.s1p"
refused 3 "boards: is not a file" export "$tmp/boards"
# Four S-parameters cannot be written of one.
printf 'frequency_hz,s21_re,s21_im\n1,2,3\n' >"$tmp/gain.csv"
refused 3 "gain.csv: " export --format s2p "$tmp/gain.csv"
finish
