#!/bin/sh
# Results that cannot be stored: status 5, a reason, and never the look of a pass.
. tests/cli/helper.sh

write_limits
sweep in/A_low.s2p 10
sweep in/A_high.s2p 10

# A full disk behind standard output, for every command.
full()
{
    "$program" "$@" >/dev/full 2>"$tmp/stderr"
    got=$?
    [ "$got" -eq 5 ] || fail "exit status $got instead of 5 with a full disk: $*"
    has stderr "standard output could not be written"
}
if [ -c /dev/full ]; then
    full check --limits "$tmp/limits.xml" "$tmp/in"
    full validate "$tmp/limits.xml"
    full export "$tmp/in/A_low.s2p"
    full --help
    full check --help
    full --version
    full emulate --archive "$tmp/boards" --units 1 --points 3
else
    echo "$name: full standard output is not tried: there is no /dev/full"
fi

# A reader that goes away is no silent death.
sweep long.s2p 10
awk 'BEGIN { print "# MHz S MA R 50"
             for (i = 1; i < 20000; i++) print i, "0.1 0 10 10 0.001 0 0.1 0" }' >"$tmp/long.s2p"
{ "$program" export "$tmp/long.s2p" 2>"$tmp/stderr"; echo $? >"$tmp/got"; } | head -n 1 >/dev/null
[ "$(cat "$tmp/got")" -eq 5 ] || fail "exit status $(cat "$tmp/got") instead of 5 without a reader"

# A file where the folder should be, at each level.
: >"$tmp/file"
refused 5 "file" check --limits "$tmp/limits.xml" --out "$tmp/file" "$tmp/in"
refused 5 "file" check --limits "$tmp/limits.xml" --out "$tmp/file/below" "$tmp/in"
mkdir "$tmp/out"
: >"$tmp/out/units"
refused 5 "units: is in the way" check --limits "$tmp/limits.xml" --out "$tmp/out" "$tmp/in"
rm "$tmp/out/units"
mkdir "$tmp/out/results.csv"
refused 5 "results.csv: cannot be written" check --limits "$tmp/limits.xml" --out "$tmp/out" "$tmp/in"
no_halves out
rmdir "$tmp/out/results.csv"
# With the obstacles gone the same folder will do.
run 0 check --limits "$tmp/limits.xml" --out "$tmp/out" "$tmp/in"
[ -s "$tmp/out/report.html" ] || fail "report.html is missing"

# A folder that may not be written. Root may write everywhere.
if [ "$(id -u)" -eq 0 ]; then
    echo "$name: a read-only folder is not tried: root may write there"
else
    mkdir "$tmp/shut"
    chmod 555 "$tmp/shut"
    refused 5 "Permission denied" check --limits "$tmp/limits.xml" --out "$tmp/shut" "$tmp/in"
    chmod 755 "$tmp/shut"
fi

# A small disk that fills up while the results are written.
run 0 emulate --archive "$tmp/many" --units 24 --points 101
mkdir "$tmp/disk"
if [ "$(id -u)" -eq 0 ] && mount -t tmpfs -o size=256k none "$tmp/disk" 2>/dev/null; then
    trap 'umount "$tmp/disk"; rm -rf "$tmp"' EXIT
    mkdir "$tmp/disk/out"
    echo before >"$tmp/disk/out/units.csv"
    refused 5 "No space left on device" check --limits docs/demo/kittiwake.xml \
        --out "$tmp/disk/out" "$tmp/many"
    no_halves disk
    has disk/out/units.csv before
    refused 5 "No space left on device" emulate --archive "$tmp/disk/boards" --units 24
    no_halves disk
    [ ! -e "$tmp/disk/boards/index.csv" ] || fail "an archive that is not whole has an index"
else
    echo "$name: a full disk is not tried: it takes root and a tmpfs"
fi
finish
