#!/bin/sh
# The exit statuses of `check`, one case each. 4 is the bench's, 130 in test_interrupt.sh.
. tests/cli/helper.sh

write_limits
sweep good/A_low.s2p 10
sweep good/A_high.s2p 10
sweep mixed/A_low.s2p 10
sweep mixed/A_high.s2p 10
sweep mixed/B_low.s2p 10
sweep mixed/B_high.s2p 2
sweep open/A_low.s2p 10

# Every unit PASS.
run 0 check --limits "$tmp/limits.xml" "$tmp/good"
has stdout "1 units: 1 PASS, 0 FAIL, 0 INCOMPLETE; yield 100.0 %"
# A failing unit, a unit whose sweep is missing: judged, not all PASS.
run 1 check --limits "$tmp/limits.xml" "$tmp/mixed"
has stdout "FAIL       B  gain: gain 6.02 dB"
has stdout "2 units: 1 PASS, 1 FAIL, 0 INCOMPLETE"
run 1 check --limits "$tmp/limits.xml" "$tmp/open"
has stdout "INCOMPLETE A  gain: no sweep at bias high (3 V)"
# The command line.
refused 2 "check needs --limits FILE" check "$tmp/good"
refused 2 "check needs a folder or sweep files" check --limits "$tmp/limits.xml"
# An input file.
refused 3 "none.xml: cannot be opened" check --limits "$tmp/none.xml" "$tmp/good"
refused 3 "none: cannot be read" check --limits "$tmp/limits.xml" "$tmp/none"
mkdir "$tmp/empty"
refused 3 "no sweep file is there" check --limits "$tmp/limits.xml" "$tmp/empty"
# Results that cannot be stored.
: >"$tmp/file"
refused 5 "file" check --limits "$tmp/limits.xml" --out "$tmp/file" "$tmp/good"
finish
