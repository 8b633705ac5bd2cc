#!/bin/sh
# No colours and no progress in a file; on a terminal colours, unless NO_COLOR is set.
. tests/cli/helper.sh

write_limits
sweep in/A_low.s2p 10
escape=$(printf '\033')

run 1 check --limits "$tmp/limits.xml" "$tmp/in"
lacks stdout "$escape"
[ ! -s "$tmp/stderr" ] || fail "words on standard error"

# `script` gives a terminal to what it runs.
if ! command -v script >/dev/null 2>&1 || ! script -qec true /dev/null >/dev/null 2>&1; then
    echo "$name: colours are not tried: script(1) is not there"
    finish
fi
line="'$program' check --limits '$tmp/limits.xml' '$tmp/in'"
(unset NO_COLOR; script -qec "$line" /dev/null) >"$tmp/terminal" </dev/null
has terminal "${escape}[33mINCOMPLETE"
NO_COLOR=1 script -qec "$line" /dev/null >"$tmp/terminal" </dev/null
has terminal "INCOMPLETE A"
lacks terminal "$escape"
finish
