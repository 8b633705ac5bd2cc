#!/bin/sh
# The tables of a tiny archive, every cell worked out by hand.
. tests/cli/helper.sh

cat >"$tmp/limits.xml" <<'END'
<limits xmlns="urn:gainsieve:limits:1" product="Tiny" impedance="50 ohm">
  <bias-steps tolerance="10 mV"><bias id="low" at="2 V"/><bias id="high" at="3 V"/></bias-steps>
  <bands>
    <band id="working" from="100 MHz" to="200 MHz" max-step="50 MHz"/>
    <band id="centre" at="150 MHz"/>
  </bands>
  <decision rule="guarded-acceptance" guard-factor="1"/>
  <gain id="gain" bias="high" band="working" min="10 dB" max="30 dB" uncertainty="0.5 dB"/>
  <gain-range id="range" band="centre" from="low" to="high" min="15 dB" max="25 dB" uncertainty="1 dB"/>
  <reflection-shift id="pull" bias="all" band="working" reference="low" max="0.05"/>
</limits>
END

# board SERIAL BIAS S21-100 S21-150 S21-200 S11-100 S11-150 S11-200: magnitudes; S11 at 0 degrees.
board()
{
    mkdir -p "$tmp/archive"
    cat >"$tmp/archive/$1_$2.s2p" <<END
# MHz S MA R 50
100 $6 0 $3 10 0.001 0 0.1 0
150 $7 0 $4 20 0.001 5 0.1 10
200 $8 0 $5 30 0.001 10 0.1 20
END
}

# Gains at 2 V are 0 dB. T1 passes: 20 log10 of 8, 10, 5 is 18.0618, 20 and 13.9794 dB.
# T1 gain: worst at 200 MHz, 13.9794000867204 - 10 = 3.9794000867204 dB inside.
# T1 range: 20 - 0 = 20 dB, 5 dB inside.
# T1 pull: 0.02, 0.03, 0.04 between high and low: worst at 200 MHz, 0.05 - 0.04 = 0.01 inside.
# Worst of the unit, by margin over guard band (gain 3.98/0.5, range 5/1) or bound (0.01/0.05 =
# 0.2): pull.
board T1 low 1 1 1 0.10 0.11 0.12
board T1 high 8 10 5 0.12 0.14 0.16
# T2 fails: 20 log10 2 = 6.0205999132796 dB at 150 MHz, 3.9794000867204 dB below 10 dB; the range
# is the same number, 8.9794000867204 dB below 15 dB. Worst: -3.98/0.5 = -7.96, -8.98/1: range.
board T2 low 1 1 1 0.10 0.11 0.12
board T2 high 10 2 10 0.10 0.11 0.12
# T3 lacks the sweep at 2 V: range and pull cannot be judged; gain has its worst, 20 log10 9 =
# 19.0848501887865 dB, at 100 MHz, 9.0848501887865 dB inside, but 30 dB is nearer to 20 log10 12 =
# 21.5836249209525 dB at 200 MHz: 8.4163750790475 dB inside.
board T3 high 9 10 12 0.10 0.11 0.12
# T4 lies in the guard band: 20 log10 3.2 = 10.1029995663981 dB at 200 MHz, 0.1029995663981 dB
# inside, less than 0.5 dB. Probability: with u = 0.25 dB, Phi(0.4119982655925) = 0.659830; the
# upper bound is 79 u away.
board T4 low 1 1 1 0.10 0.11 0.12
board T4 high 8 10 3.2 0.11 0.12 0.13

cat >"$tmp/units.wanted" <<'END'
serial,attempt,verdict,limits_failed,worst_limit,worst_margin,worst_margin_unit,worst_frequency_hz,worst_bias_v,reason
T1,1,PASS,0,pull,0.01,1,200000000,3,
T2,1,FAIL,2,range,-8.9794000867204,dB,150000000,3,~
T3,1,INCOMPLETE,0,gain,8.4163750790475,dB,200000000,3,~
T4,1,FAIL,1,gain,0.1029995663981,dB,200000000,3,~
END
cat >"$tmp/results.wanted" <<'END'
serial,attempt,limit,quantity,outcome,accepted,value,bound,margin,unit,frequency_hz,bias_v,uncertainty,conformance_probability,reason
T1,1,gain,gain,pass,yes,13.9794000867204,10,3.9794000867204,dB,200000000,3,0.5,1,
T1,1,range,gain-range,pass,yes,20,15,5,dB,150000000,3,1,1,
T1,1,pull,reflection-shift,pass,yes,0.04,0.05,0.01,1,200000000,3,,,
T2,1,gain,gain,fail,no,6.0205999132796,10,-3.9794000867204,dB,150000000,3,0.5,0,~
T2,1,range,gain-range,fail,no,6.0205999132796,15,-8.9794000867204,dB,150000000,3,1,0,~
T2,1,pull,reflection-shift,pass,yes,0,0.05,0.05,1,100000000,~,,,
T3,1,gain,gain,pass,yes,21.5836249209525,30,8.4163750790475,dB,200000000,3,0.5,1,
T3,1,range,gain-range,incomplete,no,,,,dB,,,1,,~
T3,1,pull,reflection-shift,incomplete,no,,,,1,,,,,~
T4,1,gain,gain,conditional-pass,no,10.1029995663981,10,0.1029995663981,dB,200000000,3,0.5,0.659830,~
T4,1,range,gain-range,pass,yes,20,15,5,dB,150000000,3,1,1,
T4,1,pull,reflection-shift,pass,yes,0.01,0.05,0.04,1,~,3,,,
END

# cells WANTED GOT: the same cells; numbers to 1e-9 (the probability above has six digits: 1e-6),
# '~' for anything that is not empty. No cell but a reason holds a comma or a quote.
cells()
{
    tr -d '\r' <"$tmp/$2" | awk -F, -v wanted="$tmp/$1" '
        { if ((getline line < wanted) <= 0) { print "a row too many: " $0; bad = 1; exit }
          n = split(line, want, ",")
          for (i = 1; i <= n; i++) {
              got = $i
              if (want[i] == "~" ? got != "" : got "" == want[i] "") continue
              tolerance = i == 14 ? 1e-6 : 1e-9
              if (got ~ /^-?[0-9.]/ && want[i] ~ /^-?[0-9.]/ &&
                  got - want[i] <= tolerance && want[i] - got <= tolerance) continue
              print "row " NR ", cell " i ": \"" got "\" instead of \"" want[i] "\""; bad = 1
          }
          if (want[n] != "~" && NF != n) { print "row " NR ": " NF " cells"; bad = 1 } }
        END { if (!bad && (getline line < wanted) > 0) { print "rows are missing"; bad = 1 }
              exit bad }' >"$tmp/differences" && return
    fail "$2 is not as worked out by hand"
    sed 's/^/    /' "$tmp/differences"
}

run 1 check --limits "$tmp/limits.xml" --out "$tmp/out" "$tmp/archive"
[ ! -s "$tmp/stderr" ] || fail "words on standard error"
cells units.wanted out/units.csv
cells results.wanted out/results.csv
has stdout "4 units: 1 PASS, 2 FAIL, 1 INCOMPLETE; yield 25.0 %"
has out/units.csv "range: gain range 6.02 dB at 150 MHz, bias 3 V: below 15 dB by 8.98 dB"
has out/units.csv "no sweep at bias low (2 V)"
has out/units.csv "within 10 dB by 0.10 dB, but inside the guard band"
# RFC 4180 lines, and every page that the summary speaks of.
[ "$(grep -c "$(printf '\r')$" "$tmp/out/units.csv")" -eq 5 ] || fail "units.csv: lines end otherwise"
[ "$(grep -c "$(printf '\r')$" "$tmp/out/results.csv")" -eq 13 ] || fail "results.csv: lines end otherwise"
for page in report units/T1 units/T2 units/T3 units/T4; do
    [ -s "$tmp/out/$page.html" ] || fail "$page.html is missing"
done

# Under simple acceptance T4 passes, and nothing else changes its verdict.
sed 's/guarded-acceptance/simple-acceptance/' "$tmp/limits.xml" >"$tmp/simple.xml"
run 1 check --limits "$tmp/simple.xml" --out "$tmp/simple" "$tmp/archive"
cut -d, -f1,3 "$tmp/simple/units.csv" | tail -n +2 >"$tmp/verdicts"
printf 'T1,PASS\nT2,FAIL\nT3,INCOMPLETE\nT4,PASS\n' >"$tmp/wanted"
same verdicts wanted
finish
