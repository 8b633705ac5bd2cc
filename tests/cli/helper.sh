# Read by the command-line tests: a temporary folder, and checks that say what failed.
# GAINSIEVE names the program; tests run from the top of the tree.
set -u
program=${GAINSIEVE:-build/gainsieve}
name=$(basename "$0" .sh)
n_failed=0
tmp=$(mktemp -d "${TMPDIR:-/tmp}/gainsieve-cli-XXXXXX") || exit 1
trap 'rm -rf "$tmp"' EXIT
trap 'exit 1' INT TERM HUP

fail()
{
    echo "$name: FAILED: $*"
    n_failed=$((n_failed + 1))
}

# run STATUS ARGUMENT...: the program must end with this status. What it printed is in $tmp/stdout
# and $tmp/stderr.
run()
{
    want=$1
    shift
    "$program" "$@" >"$tmp/stdout" 2>"$tmp/stderr"
    got=$?
    [ "$got" -eq "$want" ] && return
    fail "exit status $got instead of $want: $*"
    sed 's/^/    /' "$tmp/stderr" | head -n 5
}

# has FILE TEXT: a line of the file in $tmp must hold the text.
has()
{
    grep -qF -e "$2" "$tmp/$1" && return
    fail "$1 does not hold \"$2\""
    sed 's/^/    /' "$tmp/$1" | head -n 5
}

# lacks FILE TEXT: no line of the file in $tmp may hold the text.
lacks()
{
    grep -qF -e "$2" "$tmp/$1" || return 0
    fail "$1 holds \"$2\""
}

# refused STATUS TEXT ARGUMENT...: one line on standard error that holds the text, nothing on
# standard output.
refused()
{
    want=$1 text=$2
    shift 2
    run "$want" "$@"
    has stderr "gainsieve: "
    has stderr "$text"
    [ "$(wc -l <"$tmp/stderr")" -eq 1 ] || fail "not one line on standard error: $*"
    [ ! -s "$tmp/stdout" ] || fail "words on standard output: $*"
}

# same A B: two files or folders of $tmp must hold the same bytes.
same()
{
    diff -r "$tmp/$1" "$tmp/$2" >"$tmp/differences" 2>&1 && return
    fail "$1 and $2 differ"
    sed 's/^/    /' "$tmp/differences" | head -n 5
}

# no_halves FOLDER: no file that was being written may be left in the folder of $tmp.
no_halves()
{
    halves=$(find "$tmp/$1" -name '*.part' 2>/dev/null)
    [ -z "$halves" ] || fail "left half-written: $halves"
}

# A limits file of one gain limit at least 10 dB at two bias steps, low 2 V and high 3 V.
write_limits()
{
    cat >"$tmp/limits.xml" <<'END'
<limits xmlns="urn:gainsieve:limits:1" product="Tiny" impedance="50 ohm">
  <bias-steps tolerance="10 mV"><bias id="low" at="2 V"/><bias id="high" at="3 V"/></bias-steps>
  <bands><band id="working" from="100 MHz" to="200 MHz" max-step="50 MHz"/></bands>
  <gain id="gain" bias="all" band="working" min="10 dB"/>
</limits>
END
}

# sweep FILE S21: a two-port sweep of three points in $tmp whose S21 has this magnitude.
sweep()
{
    mkdir -p "$(dirname "$tmp/$1")"
    cat >"$tmp/$1" <<END
# MHz S MA R 50
100 0.1 0  $2 10  0.001 0  0.1 0
150 0.1 90 $2 20  0.001 5  0.1 10
200 0.1 45 $2 30  0.001 10 0.1 20
END
}

finish()
{
    [ "$n_failed" -eq 0 ] && echo "$name: passed"
    exit $((n_failed > 0))
}
