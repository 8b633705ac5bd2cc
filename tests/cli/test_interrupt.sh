#!/bin/sh
# A long check is interrupted: status 130, no half-written file, earlier results untouched.
. tests/cli/helper.sh

# A sweep a hundred thousand times, under as many serial numbers: long to check, quick to write. An index
# may name a file once, so that links give it many names: 320 folders that are one, of 320 files.
write_limits
sweep A_low.s2p 10
sweep A_high.s2p 10
mkdir "$tmp/real"
for i in $(seq 320); do
    ln "$tmp/A_low.s2p" "$tmp/real/$i.s2p"
    ln -s real "$tmp/d$i"
done
awk 'BEGIN { print "serial,attempt,bias,file"
             for (i = 0; i < 100000; i++)
                 printf "K%06d,1,low,d%d/%d.s2p\n", i, 1 + i / 320, 1 + i % 320 }' >"$tmp/index.csv"

interrupt()
{
    rm -rf "$tmp/out"
    mkdir -p "$tmp/out/units"
    echo before >"$tmp/out/units.csv"
    echo before >"$tmp/out/units/K000000.html"
    "$program" check --limits "$tmp/limits.xml" --index "$tmp/index.csv" --out "$tmp/out" \
        >"$tmp/stdout" 2>"$tmp/stderr" &
    child=$!
    # The first page shows that the judging has begun.
    until [ -n "$(ls "$tmp/out/units.part" 2>/dev/null)" ] || ! kill -0 $child 2>/dev/null; do
        sleep 0.1
    done
    kill -s "$1" $child 2>/dev/null
    wait $child
    got=$?
    [ $got -eq 130 ] || fail "exit status $got instead of 130 after SIG$1"
    has stderr "stopped before the end"
    [ ! -s "$tmp/stdout" ] || fail "words on standard output after SIG$1"
    no_halves out
    has out/units.csv before
    for file in results.csv report.html; do
        [ ! -e "$tmp/out/$file" ] || fail "$file of an interrupted check"
    done
    has out/units/K000000.html before
    [ "$(ls "$tmp/out/units")" = K000000.html ] || fail "new pages beside an old report"
    [ ! -e "$tmp/out/units.part" ] || fail "pages of an interrupted check are left"
}

interrupt INT
interrupt TERM
finish
