#!/bin/sh
# The emulated boards against ngspice: the same circuit, its deck written here by hand, from the same
# component values; bias, transconductance and capacitances worked out here by awk. All four
# S-parameters must agree at three frequencies, for good and faulty boards at several biases.
# Reason: the program's own solver and network must not be their only witness.
# shellcheck disable=SC2154 # variables come from the two files that are read below
set -u
if ! command -v ngspice >/dev/null 2>&1; then
    echo "test_spice: skipped: ngspice is not installed"
    exit 0
fi
tolerance=1e-9
library=$(dirname "${GAINSIEVE:-build/gainsieve}")/libgainsieve.a
folder=$(mktemp -d "${TMPDIR:-/tmp}/gainsieve-spice-XXXXXX") || exit 1
trap 'rm -rf "$folder"' EXIT
trap 'exit 1' INT TERM HUP

# The library of the sanitized build needs the sanitizers' own libraries.
sanitizers=
nm "$library" 2>/dev/null | grep -q __asan_init && sanitizers=-fsanitize=address,undefined
# shellcheck disable=SC2086 # no or one word
${CC:-cc} -std=c17 -D_GNU_SOURCE -I. $sanitizers -o "$folder/print_board" \
    tests/spice/print_board.c "$library" -lm || { echo "test_spice: no print_board"; exit 1; }

# Operating point and small-signal values of one stage, as shell assignments.
# stage NAME SUPPLY_V SOURCE_OHM (between the supply and the divider)
stage()
{
    sed -n "s/^$1_//p" "$folder/values" | awk -F= -v name="$1" -v v="$2" -v source="$3" '
        { p[$1] = $2 + 0 }
        END {
            thermal = 0.02585; foot = 0.0005
            top = source + p["upper_ohm"]
            open_v = v * p["lower_ohm"] / (top + p["lower_ohm"])
            base_ohm = 1 / (1 / top + 1 / p["lower_ohm"])
            x = (open_v - p["base_emitter_v"]) / \
                (p["emitter_open_ohm"] + p["emitter_bypassed_ohm"] + base_ohm / p["current_gain"])
            i = x / 2 + sqrt(x * x / 4 + foot * foot)
            printf "%s_gm=%.17g\n", name, i / thermal
            printf "%s_pi_ohm=%.17g\n", name, p["current_gain"] * thermal / i
            printf "%s_pi_f=%.17g\n", name, p["emitter_f"] + p["transit_s"] * i / thermal
            printf "%s_early_ohm=%.17g\n", name, p["early_v"] / i
        }'
}

# The deck, from the shell variables of `values` and `stage`.
write_deck()
{
    cat <<END
* two-stage driver board, small signal
V1 in 0 dc 0 ac 1 portnum 1 z0 50
V2 out 0 dc 0 ac 0 portnum 2 z0 50

* input
Cin in a1 $input_f
Lin a1 a2 $input_h
Rin a2 b1 $input_ohm

* first stage
Ru1 b1 0 $first_upper_ohm
Rl1 b1 0 $first_lower_ohm
Rf b1 a3 $feedback_ohm
Cf a3 c1 $feedback_f
Rb1 b1 i1 $first_base_ohm
Rpi1 i1 e1 $first_pi_ohm
Cpi1 i1 e1 $first_pi_f
Cmu1 i1 c1 $first_collector_f
Gm1 c1 e1 i1 e1 $first_gm
Ro1 c1 e1 $first_early_ohm
Re1 e1 a4 $first_emitter_ohm
Rx1 a4 a5 $first_emitter_open_ohm
Le1 a5 a6 $first_emitter_lead_h
Rd1 a6 0 $first_emitter_bypassed_ohm
Cd1 a6 0 $first_bypass_f
Lc1 c1 a7 $first_choke_h
Rc1 a7 0 $first_choke_ohm
Rp1 c1 0 $first_damping_ohm

* between the stages
Lm c1 a8 $middle_h
Rm a8 a9 $middle_ohm
Rs a9 a10 $coupling_ohm
Cs a10 b2 $coupling_f
Cm b2 0 $middle_f

* second stage and its bias feed
Ru2 b2 p $second_upper_ohm
Rfeed p 0 $feed_ohm
Cdec p 0 $decoupling_f
Rleak p 0 $leak_ohm
Rl2 b2 0 $second_lower_ohm
Rb2 b2 i2 $second_base_ohm
Rpi2 i2 e2 $second_pi_ohm
Cpi2 i2 e2 $second_pi_f
Cmu2 i2 c2 $second_collector_f
Gm2 c2 e2 i2 e2 $second_gm
Ro2 c2 e2 $second_early_ohm
Re2 e2 a11 $second_emitter_ohm
Rx2 a11 a12 $second_emitter_open_ohm
Le2 a12 a13 $second_emitter_lead_h
Rd2 a13 0 $second_emitter_bypassed_ohm
Cd2 a13 0 $second_bypass_f
Lc2 c2 a14 $second_choke_h
Rc2 a14 0 $second_choke_ohm
Rp2 c2 0 $second_damping_ohm

* output: match, pad, connector
Lo c2 a15 $output_h
Ro a15 m $output_ohm
Co m 0 $output_shunt_f
Rpa m 0 $pad_in_ohm
Rps m n $pad_series_ohm
Rpb n 0 $pad_out_ohm
Cout n a16 $output_f
$joint

.control
sp lin 3 160Meg 178Meg
set numdgt=15
set width=1000
set nopage
print frequency
print s_1_1
print s_1_2
print s_2_1
print s_2_2
quit
.endc
.end
END
}

# ngspice's tables (index, frequency, re, im; a table a parameter) to one line a frequency.
gather()
{
    tr ',' ' ' | awk '
        /^[0-9]+[ \t]/ { i = $1; if (NF >= 4) { f[i] = $2; line[i] = line[i] " " $3 " " $4 } }
        END { for (i = 0; i < 3; i++) print f[i] line[i] }'
}

compare() # WORDS
{
    paste -d ' ' "$folder/own" "$folder/spice" | awk -v words="$1" -v tolerance="$tolerance" '
        NF != 18 { print "test_spice: " words ": " NF " columns, not 18"; bad = 1; exit }
        { for (k = 2; k <= 9; k++) {
              d = $k - $(k + 9); if (d < 0) d = -d
              if (!(d <= worst)) worst = d
          } rows++ }
        END {
            if (bad) exit 1
            if (rows != 3) { print "test_spice: " words ": " rows " rows, not 3"; exit 1 }
            if (!(worst <= tolerance)) {
                printf "test_spice: %s: differs by %.3g\n", words, worst; exit 1
            }
        }'
}

# Seed, board number, fault to add (order of enum board_fault), bias.
cases="1:0:0:1.8 1:0:0:2.4 1:0:0:3.0 1:4:0:2.1 1:17:0:2.7 9:1234:0:1.8
       1:0:1:2.4 1:0:2:1.8 1:0:2:3.0 1:0:3:1.8 1:0:3:3.0 1:0:4:1.8 1:0:4:3.0 1:0:0:0.5"
n=0
for case in $cases; do
    IFS=: read -r seed number fault bias <<END
$case
END
    words="seed $seed, board $number, fault $fault, $bias V"
    "$folder/print_board" values "$seed" "$number" "$fault" "$bias" >"$folder/values" || exit 1
    "$folder/print_board" table "$seed" "$number" "$fault" "$bias" >"$folder/own" || exit 1
    # shellcheck disable=SC1091 # NAME=NUMBER lines
    . "$folder/values"
    # The feed and the leak divide the bias before it reaches the divider of the second base.
    feed_v=$(awk "BEGIN { printf \"%.17g\", $bias * $leak_ohm / ($feed_ohm + $leak_ohm) }")
    feed_source=$(awk "BEGIN { printf \"%.17g\", 1 / (1 / $feed_ohm + 1 / $leak_ohm) }")
    stage first 5 0 >"$folder/stages"
    stage second "$feed_v" "$feed_source" >>"$folder/stages"
    # shellcheck disable=SC1091
    . "$folder/stages"
    case $joint_ohm in
        0) joint="Vj a16 out 0" ;;
        *) joint="Rj a16 out $joint_ohm" ;;
    esac
    write_deck >"$folder/deck.cir"
    ngspice -b "$folder/deck.cir" >"$folder/log" 2>&1
    gather <"$folder/log" >"$folder/spice"
    compare "$words" || exit 1
    n=$((n + 1))
done
echo "test_spice: $n boards and biases agree with ngspice to $tolerance"
