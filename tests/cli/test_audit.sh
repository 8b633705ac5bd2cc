#!/bin/sh
# The command around the audit: what is no batch, what is a damaged one, a wrong command line.
# The audit itself is proven by tests/unit/test_audit.c, which can make a batch.
. tests/cli/helper.sh

refused 2 "audit needs --batch DIR" audit
refused 2 "audit needs --batch DIR" audit --batch "$tmp" "$tmp"
refused 2 "write the 64 digits" audit --batch "$tmp" --last 12ab
refused 3 "is no batch" audit --batch "$tmp"
refused 3 "is no batch" audit --batch "$tmp/absent"

# A damaged record is not whole: status 1, and a line that says where.
mkdir "$tmp/batch"
echo "overwritten" >"$tmp/batch/batch.sqlite"
run 1 audit --batch "$tmp/batch"
has stdout "batch.sqlite"
has stdout "not whole: 1 finding"
: >"$tmp/batch/batch.sqlite"
mkdir -p "$tmp/batch/sweeps/KW1/1"
echo "! a sweep" >"$tmp/batch/sweeps/KW1/1/low.s2p"
run 1 audit --batch "$tmp/batch"
has stdout "not whole"
# An empty record beside nothing else is what an interrupted beginning leaves: nothing was lost.
rm -r "$tmp/batch/sweeps"
run 0 audit --batch "$tmp/batch"
has stdout "no entry yet"
finish
