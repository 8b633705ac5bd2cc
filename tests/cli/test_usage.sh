#!/bin/sh
# The command line: help and version of everything, unknown words answered with the nearest, each
# mistake with its own words.
. tests/cli/helper.sh

write_limits
sweep in/A_low.s2p 10

run 0 --help
for command in check validate export emulate; do
    has stdout "  $command "
done
has stdout "Exit status: 0 every unit PASS"
run 0 -h
run 0 --version
grep -qx 'gainsieve [0-9]*\.[0-9]*\.[0-9]*' "$tmp/stdout" || fail "the version is no version"

for command in check validate export emulate; do
    run 0 "$command" --help
    has stdout "Usage: gainsieve $command "
    has stdout "  --help "
    [ ! -s "$tmp/stderr" ] || fail "$command --help writes on standard error"
done
run 0 check --help
for option in "limits FILE" "out DIR" "layout PATTERN" "index FILE" "reference SERIAL" "jobs N"; do
    has stdout "  --$option "
done

refused 2 "name a command"
refused 2 "there is no command \"chekc\"; did you mean check?" chekc
refused 2 "there is no command \"zzzzz\"" zzzzz
lacks stderr "did you mean"
refused 2 "there is no option --limit5; did you mean --limits?" check --limit5 x
refused 2 "there is no option --unts; did you mean --units?" emulate --unts 3
refused 2 "there is no option --formt; did you mean --format?" export --formt csv
refused 2 "there is no option --zzzzz" validate --zzzzz

refused 2 "--limits needs a value" check --limits
refused 2 "--limits stands twice" check --limits a --limits b
refused 2 "-l: options are written in full" check -l a
for jobs in 0 -1 1.5 two 257 ''; do
    refused 2 "--jobs $jobs: write a whole number from 1 to 256" \
        check --limits "$tmp/limits.xml" --jobs "$jobs" "$tmp/in"
done
refused 2 "exclude each other" \
    check --limits "$tmp/limits.xml" --layout '{serial}' --index i.csv "$tmp/in"
refused 2 "needs {bias}" check --limits "$tmp/limits.xml" --layout '{serial}.s2p' "$tmp/in"
refused 2 "holds no such unit" check --limits "$tmp/limits.xml" --reference B "$tmp/in"
refused 2 "validate needs a limits file" validate
refused 2 "export needs one sweep file" export
refused 2 "export needs one sweep file" export a b
refused 2 "--format xml: write csv or s2p" export --format xml a
refused 2 "emulate needs --archive DIR" emulate
refused 2 "emulate needs --archive DIR" emulate --archive "$tmp/out" more
refused 2 "--units 0: write a whole number" emulate --archive "$tmp/out" --units 0
refused 2 "--seed x: write a whole number" emulate --archive "$tmp/out" --seed x
refused 2 "--points 1: write a whole number" emulate --archive "$tmp/out" --points 1
[ ! -e "$tmp/out" ] || fail "a wrong command line made a folder"
finish
