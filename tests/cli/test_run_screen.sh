#!/bin/sh
# The operator's walk on a terminal of 80 x 24: what to do, POWERED, verdicts in large letters, a failure
# with reason and advice, the commands, Ctrl-C in the middle of a board, the terminal given back.
. tests/cli/helper.sh

command -v tmux >/dev/null || { echo "$name: skipped: tmux is missing"; exit 0; }
command -v bash >/dev/null || { echo "$name: skipped: bash is missing"; exit 0; }

screen="tmux -L gainsieve-$$ -f /dev/null"
server=
trap '$screen kill-server 2>/dev/null; [ -z "$server" ] || kill "$server" 2>/dev/null; rm -rf "$tmp"' EXIT
"$program" emulate --listen tcp:127.0.0.1:0 --seed 1 >"$tmp/ports" &
server=$!
for _ in $(seq 100); do
    [ "$(wc -l <"$tmp/ports")" -eq 3 ] && break
    sleep 0.05
done
profiles=$(pwd)/docs/profiles
cat >"$tmp/bench.xml" <<END
<bench xmlns="urn:gainsieve:bench:1" label="Screen bench">
<analyser profile="$profiles/analyser.xml" port="$(sed -n 's/^analyser //p' "$tmp/ports")"/>
<supply profile="$profiles/supply.xml" port="$(sed -n 's/^supply //p' "$tmp/ports")"/>
<fixture port="$(sed -n 's/^fixture //p' "$tmp/ports")"/>
<sweep from="150 MHz" to="190 MHz" points="41" if-bandwidth="10 kHz" power="-30 dBm" setup="1"/>
<levels pad="20 dB" pad-rating="30 dBm" saturated-output="20 dBm"/>
<bias current-limit="15 mA" most="3.2 V" ramp-step="1 V" ramp-interval="1 ms" settling="400 ms"/>
</bench>
END

# see WORDS: waits until a row of the screen holds them.
see()
{
    for _ in $(seq 200); do
        $screen capture-pane -p >"$tmp/screen" 2>/dev/null
        grep -qF -e "$1" "$tmp/screen" && return
        sleep 0.05
    done
    fail "the screen does not show \"$1\""
    sed 's/^/    /' "$tmp/screen"
}

# type WORDS: the words and Enter, as a scanner sends them.
type()
{
    $screen send-keys -l "$1"
    $screen send-keys Enter
}

# start: the program on the screen, from the shell that is there.
start()
{
    type "$program run --limits docs/demo/kittiwake.xml --bench $tmp/bench.xml --batch $tmp/batch --operator Ada; echo status \$?"
}

$screen new-session -d -x 80 -y 24 "env PS1='ready> ' TERM=screen bash --norc --noprofile" 2>/dev/null
see "ready>"
type "stty -a >$tmp/before; echo marked"
see "marked"

# The first prompt: product, batch, operator, counts, what to do.
start
see "NEXT: Scan or type the next serial number."
has screen "Kittiwake KW-170 driver board | batch $tmp"
has screen "Yield - % of 0 boards   PASS 0   FAIL 0   INCOMPLETE 0"
has screen "/retest /skip /note WORDS /wrong /stop"
[ "$(wc -l <"$tmp/screen")" -le 24 ] || fail "more than 24 rows"

# A board: powered, with progress; then PASS in large letters.
type KW000101
see "POWERED: do not touch the board"
see "of 5 bias steps"
see "Board KW000101, attempt 1 of 3: bias "
has screen "##"
see "PASS: last board KW000101, attempt 1"
has screen "  ##########      ########      ##########    ##########"
has screen "Yield 100.0 % of 1 boards"

# A failure: which limit, by how much, what to do; the next number at once.
type KW000110
see "FAIL: last board KW000110, attempt 1"
has screen "Reason: current: bias current 10."
has screen "Advice: "
has screen "Yield 50.0 % of 2 boards   PASS 1   FAIL 1   INCOMPLETE 0"
see "NEXT: Scan or type the next serial number."

# The commands.
type /retest
see "FAIL: last board KW000110, attempt 2"
type "/wrong output cable"
see "Note: Marked as wrongly connected"
type "/note fan off since noon"
see "Note: Noted."
type KW000101
see "ANSWER: KW000101 was tested before: PASS at attempt 1."
type KW000110x
see "\"KW000110x\":"
type KW000101
see "ANSWER: KW000101 was tested before"
type /skip
see "NEXT: "
type /stop
see "status 1"
has screen "2 units: 1 PASS, 1 FAIL, 0 INCOMPLETE"

# Ctrl-C in the middle of a board: bias off, status 130, nothing of the board stored.
start
see "NEXT: "
type KW000103
see "POWERED: do not touch the board"
$screen send-keys C-c
see "status 130"
has screen "stopped: every verdict that was shown is in the record"
port=$(sed -n 's/^fixture.*://p' "$tmp/ports")
printf 'FIXT:STAT?\n' | timeout 5 bash -c "exec 3<>/dev/tcp/127.0.0.1/$port; cat >&3; head -n 1 <&3" >"$tmp/state"
[ "$(cut -d, -f1,4 "$tmp/state")" = 0,0 ] || fail "output or RF is on after Ctrl-C: $(cat "$tmp/state")"
[ ! -d "$tmp/batch/sweeps/KW000103" ] || fail "an interrupted board has sweeps"

# The terminal is as it was, and the record whole.
type "stty -a >$tmp/after; echo again"
see "again"
same before after
run 0 audit --batch "$tmp/batch"
finish
