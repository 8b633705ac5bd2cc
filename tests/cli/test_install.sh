#!/bin/sh
# What `make install` puts where: the program, the manual pages and every data file.
. tests/cli/helper.sh

# A make that runs this test may not lend its flags and targets to the one below.
unset MAKEFLAGS MFLAGS MAKELEVEL
make -s install BUILD="$(dirname "$program")" DESTDIR="$tmp/to" PREFIX=/usr >"$tmp/said" 2>&1 ||
    fail "make install: $(tail -n 1 "$tmp/said")"
for file in limits/limits.xsd drivers/profile.xsd docs/demo/kittiwake.xml docs/profiles/*.xml; do
    cmp -s "$file" "$tmp/to/usr/share/gainsieve/$(basename "$file")" || fail "$file is not installed"
done
for file in docs/man/*.[15]; do
    cmp -s "$file" "$tmp/to/usr/share/man/man${file##*.}/$(basename "$file")" ||
        fail "$file is not installed"
done
[ -x "$tmp/to/usr/bin/gainsieve" ] || fail "the program is not installed"
finish
