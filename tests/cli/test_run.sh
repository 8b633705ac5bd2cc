#!/bin/sh
# A batch at an emulated bench behind TCP: exit statuses, going on after a kill, questions, marks, another
# limits file, a second station, the reference unit, a rehearsal, a streak, sweeps from a folder.
. tests/cli/helper.sh

limits=docs/demo/kittiwake.xml
profiles=$(pwd)/docs/profiles
server=
trap '[ -z "$server" ] || kill "$server" 2>/dev/null; rm -rf "$tmp"' EXIT

# serve ARGUMENT...: a bench behind TCP; its ports are in $tmp/ports.
serve()
{
    [ -z "$server" ] || { kill "$server" 2>/dev/null; wait "$server" 2>/dev/null; }
    # The ports of the one before must not be taken for its own.
    : >"$tmp/ports"
    "$program" emulate --listen tcp:127.0.0.1:0 --seed 1 "$@" >"$tmp/ports" &
    server=$!
    for _ in $(seq 200); do
        [ "$(wc -l <"$tmp/ports")" -eq 3 ] && break
        sleep 0.05
    done
    analyser=$(sed -n 's/^analyser //p' "$tmp/ports")
    supply=$(sed -n 's/^supply //p' "$tmp/ports")
    fixture=$(sed -n 's/^fixture //p' "$tmp/ports")
    supply_is="profile=\"$profiles/supply.xml\" port=\"$supply\""
    analyser_is="profile=\"$profiles/analyser.xml\" port=\"$analyser\""
    fixture_is="<fixture port=\"$fixture\"/>"
    settling="1 ms"
}

# bench FILE [ELEMENTS]: a bench file of the ports; the elements stand behind <correction>.
bench()
{
    cat >"$tmp/$1" <<END
<bench xmlns="urn:gainsieve:bench:1" label="CLI bench">
<analyser $analyser_is/>
<supply $supply_is/>
$fixture_is
<sweep from="150 MHz" to="190 MHz" points="41" if-bandwidth="10 kHz" power="-30 dBm"${setup- setup=\"1\"}/>
<levels pad="20 dB" pad-rating="30 dBm" saturated-output="20 dBm"${levels-}/>
<bias current-limit="15 mA" most="3.2 V" ramp-step="1 V" ramp-interval="1 ms" settling="$settling"/>
${2-}
</bench>
END
}

# boards STATUS BATCH LINES [ARGUMENT...]: a run whose standard input is LINES, with printf's escapes.
boards()
{
    want=$1 batch=$2 lines=$3
    shift 3
    printf "$lines" | "$program" run --limits "$limits" --bench "$tmp/bench.xml" --batch "$tmp/$batch" "$@" \
        >"$tmp/stdout" 2>"$tmp/stderr"
    got=$?
    [ "$got" -eq "$want" ] && return
    fail "exit status $got instead of $want: $batch: $lines"
    tail -n 4 "$tmp/stdout" "$tmp/stderr" | sed 's/^/    /'
}

# whole BATCH STATUS: the record is unaltered, gives its own verdicts, and the reports hold them.
whole()
{
    run 0 audit --batch "$tmp/$1"
    run "$2" check --batch "$tmp/$1"
    run 0 report --batch "$tmp/$1" --unit-pages none
}

# state: what the fixture says of output, V, A, RF and sweeps taken.
state()
{
    port=${fixture##*:}
    printf 'FIXT:STAT?\n' | timeout 5 bash -c "exec 3<>/dev/tcp/127.0.0.1/$port; cat >&3; head -n 1 <&3"
}

# tried SERIAL ATTEMPT: whether that attempt has a folder.
tried()
{
    [ -d "$tmp/$batch/sweeps/$1/$2" ]
}

command -v bash >/dev/null || { echo "$name: skipped: it needs bash for a TCP connection"; exit 0; }
serve
bench bench.xml "<attempts most=\"3\"/>"

# Status 0 when every unit passes, 1 when one does not; the counts are the batch's.
boards 0 a 'KW000101\nKW000102\n' --operator "N. N."
has stdout "KW000101 attempt 1: PASS"
has stdout "2 units: 2 PASS, 0 FAIL, 0 INCOMPLETE"
boards 1 a 'KW000110\n'
has stdout "KW000110 attempt 1: FAIL"
has stdout "  reason: current: bias current"
has stdout "  advice: "
has stdout "3 units: 2 PASS, 1 FAIL, 0 INCOMPLETE"
whole a 1
has a/report.html "CLI bench, bench.xml "
grep -q '^KW000110,1,FAIL,' "$tmp/a/units.csv" || fail "the report has another verdict of KW000110"
[ "$(state | cut -d, -f1)" = 0 ] || fail "the output is on after a run"

# Closed standard files: no other file takes their places. Without an input there are no boards; without an
# output nobody would hear of a verdict, and none is stored.
timeout 20 "$program" run --limits "$limits" --bench "$tmp/bench.xml" --batch "$tmp/closed" <&- \
    >"$tmp/stdout" 2>"$tmp/stderr"
[ $? -ne 124 ] || fail "without an input it waits for one"
printf 'KW000101\n' | "$program" run --limits "$limits" --bench "$tmp/bench.xml" --batch "$tmp/closed" >&- \
    2>"$tmp/stderr"
[ $? -eq 5 ] || fail "without an output it goes on"
has stderr "standard output: Bad file descriptor"

# A bad serial number, a board that was seen before, commands: nothing is tested that was not asked for.
boards 1 a 'KW1\nKW000101\n/skip\nKW000102\n/retest\n/note the "fan" was off\n/what\n'
has stdout '"KW1": '
has stdout "KW000101 was tested before: PASS at attempt 1."
has stdout "KW000102 attempt 2: PASS"
has stdout "note: Noted."
has stdout '"/what" is no command'
! tried KW000101 2 || fail "a board was tested again without /retest"
# The limit on attempts, with a marked one among them.
boards 1 a 'KW000102\n/retest\n/wrong cable loose\n/retest\nKW000102\n'
has stdout "note: Marked as wrongly connected"
has stdout "KW000102 has had 3 attempts"
! tried KW000102 4 || fail "more attempts than are allowed"
whole a 1
# A unit of which every attempt is marked has not passed.
boards 1 marked 'KW000101\nKW000103\n/wrong\n'
has stdout "1 units: 1 PASS"
whole marked 1

# Killed while it measures, by the signal that nobody can catch and by the one that asks: bias off, what
# was shown is kept, nothing is doubled, and the same command goes on.
settling="300 ms"
bench bench.xml
for signal in KILL TERM INT; do
    mkfifo "$tmp/lines"
    "$program" run --limits "$limits" --bench "$tmp/bench.xml" --batch "$tmp/k$signal" <"$tmp/lines" \
        >"$tmp/stdout" 2>"$tmp/stderr" &
    child=$!
    exec 4>"$tmp/lines"
    printf 'KW000101\nKW000103\n' >&4
    for _ in $(seq 300); do
        grep -q "KW000103 attempt 1: POWERED" "$tmp/stdout" && break
        sleep 0.05
    done
    sleep 0.5
    # A second station cannot have the batch meanwhile.
    if [ $signal = KILL ]; then
        "$program" run --limits "$limits" --bench "$tmp/bench.xml" --batch "$tmp/kKILL" \
            </dev/null >"$tmp/second" 2>&1
        [ $? -eq 5 ] || fail "a second station was not refused: $(cat "$tmp/second")"
    fi
    kill -s $signal $child
    wait $child 2>/dev/null
    got=$?
    exec 4>&-
    rm -f "$tmp/lines"
    [ $signal = KILL ] || [ $got -eq 130 ] || fail "exit status $got after SIG$signal"
    [ $signal = KILL ] || has stderr "run the same command again"
    for _ in $(seq 60); do
        [ "$(state | cut -d, -f1)" = 0 ] && break
        sleep 0.05
    done
    [ "$(state | cut -d, -f1)" = 0 ] || fail "the output is still on after SIG$signal"
    has stdout "KW000101 attempt 1: PASS"
    lacks stdout "KW000103 attempt 1: PASS"
    boards 0 k$signal 'KW000103\n'
    has stdout "KW000103 attempt 1: PASS"
    has stdout "2 units: 2 PASS"
    whole k$signal 0
done
settling="1 ms"
bench bench.xml

# Other limits: refused with both digests, taken with a reason, which the record keeps.
sed 's/product="[^"]*"/product="Another product"/' "$limits" >"$tmp/other.xml"
limits=$tmp/other.xml
boards 3 kTERM 'KW000102\n'
has stderr "--reason"
boards 0 kTERM 'KW000102\n' --reason "the limits were mended"
has stdout "3 units: 3 PASS"
whole kTERM 0
limits=docs/demo/kittiwake.xml

# An instrument that is lost, or is not there: status 4, no verdict, the output off.
serve --fault 'gone-before@CALC:DATA?#2'
bench bench.xml
boards 4 lost 'KW000101\nKW000102\n'
has stderr "hung up"
lacks stdout "PASS"
[ "$(state | cut -d, -f1)" = 0 ] || fail "the output is on behind a lost analyser"
boards 0 lost 'KW000101\nKW000102\n'
whole lost 0
serve --fault 'supply.stays-on@MEAS:CURR?#4'
bench bench.xml
boards 4 stuck 'KW000101\n'
has stderr "the board may still be POWERED: switch the supply off by hand"
lacks stdout "PASS"
kill $server
wait $server 2>/dev/null
server=
boards 4 gone 'KW000101\n'

# The reference unit: its own sweeps prove the bench, those of another board do not, and then no board is
# tested.
serve
bench bench.xml
boards 0 reference 'KW000102\n'
reference()
{
    echo "<reference-unit serial=\"KW000102\" sweeps=\"$1\" gain-tolerance=\"0.3 dB\"" \
        "reflection-tolerance=\"0.02\" every-units=\"2\"/>"
}
bench bench.xml "$(reference reference/sweeps/KW000102/1)"
boards 0 proven 'KW000101\nKW000103\nKW000104\n'
has stdout "note: The bench is proven: gain differs by"
has stdout "3 units: 3 PASS"
whole proven 0
bench bench.xml "$(reference a/sweeps/KW000110/1)"
boards 4 unproven 'KW000101\n'
has stderr "the reference unit KW000102 is not what it was: gain differs by"
[ ! -d "$tmp/unproven/sweeps/KW000101" ] || fail "a board was tested at a bench that is not proven"
run 0 audit --batch "$tmp/unproven"

# A rehearsal: every command is shown, nothing is sent.
serve --connect KW000101
bench bench.xml
run 0 run --rehearse --limits "$limits" --bench "$tmp/bench.xml"
for words in "OUTP 1" "SOUR:VOLT 3.000" "SOUR:CURR 0.0150" "CALC:DATA?" "OUTP 0"; do
    has stdout " > $words"
done
[ "$(state)" = "0,+0.0E+00,+0.0E+00,0,0" ] || fail "the bench after a rehearsal: $(state)"

# A streak halts: a serial number is no answer, an empty line is.
sed 's/<\/limits>/<gain id="strict" bias="mid" band="working" min="25.9 dB"\/><\/limits>/' "$limits" >"$tmp/strict.xml"
limits=$tmp/strict.xml
bench bench.xml "<streak stop-after=\"2\"/>"
boards 4 streak 'KW000101\nKW000102\nKW000103\n'
has stdout 'HALT: 2 boards in a row failed "strict"'
has stderr '"KW000103" came where a question wants an answer'
boards 1 streak 'KW000103\nKW000104\n\nKW000105\n'
has stdout "KW000105 attempt 1: FAIL"
whole streak 1
limits=docs/demo/kittiwake.xml

# Without a fixture each board is connected by hand.
fixture_is=
bench bench.xml
boards 0 hand 'KW000101\n\nKW000102\n/skip label torn\n'
has stdout "answer: The bench is off. Connect KW000101"
has stdout "KW000102 was left out; the record says so."
has stdout "1 units: 1 PASS"
whole hand 0

# Sweeps from a folder, with a supply that is set by hand: the operator hears which sweep is wanted, and
# says each current. The instrument's own program is played by a loop that saves what it is asked for.
"$program" emulate --archive "$tmp/boards" --units 1 --seed 1 --points 41 >/dev/null ||
    fail "no archive"
mkdir "$tmp/drop"
# Only a correction that is not asked for, and ratings of the receiver, go with a folder.
analyser_is="port=\"folder:drop\"" supply_is="port=\"manual:\"" setup=
levels=' receiver-damage="20 dBm" receiver-linear="3 dBm"'
bench bench.xml
(
    n=0
    while [ $n -lt 5 ] && sleep 0.1; do
        wanted=$(sed -n 's/^Into .*: KW000101, bias \([a-z0-9-]*\),.*: save its sweep now.*/\1/p' "$tmp/stdout" | tail -n 1)
        [ -n "$wanted" ] && [ "$wanted" != "${last-}" ] || continue
        last=$wanted n=$((n + 1))
        sleep 0.2
        cp "$(find "$tmp/boards" -name "*_$wanted.s2p")" "$tmp/drop/saved_$n.s2p"
    done
) &
saver=$!
boards 0 folder 'KW000101\n\n2.936\n3.949\n4.99\n6.024\n7.065\n\n'
kill $saver 2>/dev/null
wait $saver 2>/dev/null
cat "$tmp/stdout" >"$tmp/folder-said"
has folder-said "See that supply and RF are OFF. Connect KW000101"
has folder-said "Set the bias of KW000101 to"
whole folder 0

# Who stops while a bias is set by hand is asked to switch off; whoever does not say so is told at the end.
boards 130 stopped 'KW000101\n\n/stop\n\n'
has stdout "Switch the bias of KW000101 OFF, then press Enter."
boards 4 stopped 'KW000101\n\n/stop\n'
has stderr "the board may still be POWERED: switch the supply off by hand"
boards 4 stopped 'KW000101\n\n'
has stderr "the board may still be POWERED: switch the supply off by hand"
run 0 audit --batch "$tmp/stopped"

finish
