#!/bin/sh
# A served bench: says where it listens, answers on a serial line, ends when it is told to.
. tests/cli/helper.sh

refused 2 "free ports" emulate --listen tcp:0.0.0.0:0
refused 2 "free ports" emulate --listen tcp:127.0.0.1:65534
refused 2 "--archive DIR or --listen WHERE" emulate --listen pty --archive "$tmp/out"
refused 2 "no fault of this name" emulate --listen pty --fault cutt
refused 2 "no emulated board" emulate --listen pty --connect KW000100
refused 2 "--baud 9" emulate --listen pty --baud 9
run 0 emulate --fault list
has stdout "the answer has no terminator"

"$program" emulate --listen pty --connect KW000103 --fault supply.crlf@3 >"$tmp/ports" 2>"$tmp/stderr" &
child=$!
until [ "$(wc -l <"$tmp/ports")" -eq 3 ] || ! kill -0 $child 2>/dev/null; do
    sleep 0.05
done
supply=$(sed -n 's/^supply serial://p' "$tmp/ports")
[ -c "$supply" ] || fail "no serial line for the supply: $(cat "$tmp/ports")"
{
    for message in "*IDN?" "VOLT 2.4;:OUTP 1;:OUTP?" "*OPC?"; do
        echo "$message" >&3
        IFS= read -r answer <&3 && echo "$answer"
    done
} 3<>"$supply" | tr '\r' R >"$tmp/stdout"
has stdout "gainsieve,emulated supply,"
[ "$(tail -n 2 "$tmp/stdout" | tr '\n' ' ')" = "1 1R " ] || fail "answers: $(cat "$tmp/stdout")"
kill -s TERM $child
wait $child
[ $? -eq 0 ] || fail "the end on SIGTERM is not an ordinary one"
[ ! -s "$tmp/stderr" ] || fail "words on standard error: $(cat "$tmp/stderr")"
finish
