#!/bin/sh
# What `make install` puts where: the program, the manual pages, every data file and document.
. tests/cli/helper.sh

# A make that runs this test may not lend its flags and targets to the one below.
unset MAKEFLAGS MFLAGS MAKELEVEL
make -s install BUILD="$(dirname "$program")" DESTDIR="$tmp/to" PREFIX=/usr >"$tmp/said" 2>&1 ||
    fail "make install: $(tail -n 1 "$tmp/said")"
for file in limits/*.xsd drivers/*.xsd docs/demo/kittiwake.xml docs/profiles/*.xml; do
    cmp -s "$file" "$tmp/to/usr/share/gainsieve/$(basename "$file")" || fail "$file is not installed"
done
for file in docs/man/*.[15]; do
    cmp -s "$file" "$tmp/to/usr/share/man/man${file##*.}/$(basename "$file")" ||
        fail "$file is not installed"
done
for file in docs/*.md; do
    cmp -s "$file" "$tmp/to/usr/share/doc/gainsieve/$(basename "$file")" || fail "$file is not installed"
done
# The bench among them is one that can be run as it stands, its profiles found.
share=$tmp/to/usr/share/gainsieve
run 0 run --rehearse --limits "$share/kittiwake.xml" --bench "$share/bench.xml"
has stdout "analyser > SENS:FREQ:STAR 150000000"
[ -x "$tmp/to/usr/bin/gainsieve" ] || fail "the program is not installed"
finish
