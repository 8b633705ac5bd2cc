#!/bin/sh
# `validate`: a right file in words, wrong ones with file and line.
. tests/cli/helper.sh

write_limits
run 0 validate "$tmp/limits.xml"
has stdout "limits.xml: right"
has stdout "at least 10 dB"
has stdout "100 MHz"
run 0 validate docs/demo/kittiwake.xml
[ "$(grep -c . "$tmp/stdout")" -gt 12 ] || fail "the demo's limits are not a line each"

# The shipped profiles, a line a step.
for profile in analyser supply; do
    run 0 validate docs/profiles/$profile.xml
    has stdout "$profile.xml: right"
    has stdout "Step set-"
    lacks stdout "Caution: "
done
# Profile and limits in one call, each by its own rules.
run 0 validate "$tmp/limits.xml" docs/profiles/supply.xml
has stdout "Limit gain: "
has stdout "Supply: "
sed 's/{voltage_v:.3f}/{voltage_v:.3e}/' docs/profiles/supply.xml >"$tmp/exponent.xml"
line=$(grep -n 'voltage_v:.3e' "$tmp/exponent.xml" | cut -d: -f1)
refused 3 "exponent.xml:$line: " validate "$tmp/exponent.xml"
# A bench: the demo's, and the example that people copy, indented by four in its document.
run 0 validate docs/demo/bench.xml
has stdout "Bench: Kittiwake demo bench (emulated)"
has stdout "Sweep: 150 MHz to 190 MHz, 401 points"
sed -n '/^    <?xml/,/^    <.bench>/s/^    //p' docs/bench.md >"$tmp/bench.xml"
run 0 validate "$tmp/bench.xml"
has stdout "bench.xml: right"
lacks stdout "Caution: "
sed 's/pad="20 dB"/pad="20"/' docs/demo/bench.xml >"$tmp/pad.xml"
refused 3 "pad.xml:$(grep -n 'pad="20"' "$tmp/pad.xml" | cut -d: -f1): " validate "$tmp/pad.xml"
# None of the three: all of them are named.
echo '<limits product="P"/>' >"$tmp/neither.xml"
refused 3 "neither.xml:1: " validate "$tmp/neither.xml"
for kind in limits profile bench; do
    has stderr "urn:gainsieve:$kind:1"
done

# A limit's unit on line 4.
sed 's/min="10 dB"/min="10"/' "$tmp/limits.xml" >"$tmp/unit.xml"
refused 3 "unit.xml:4: " validate "$tmp/unit.xml"
# A band that is not there.
sed 's/band="working"/band="wrking"/' "$tmp/limits.xml" >"$tmp/band.xml"
refused 3 "band.xml:4: " validate "$tmp/band.xml"
# What a schema cannot say: a band that ends before it begins.
sed 's/to="200 MHz"/to="20 MHz"/' "$tmp/limits.xml" >"$tmp/empty.xml"
refused 3 "empty.xml:3: " validate "$tmp/empty.xml"
# Not XML at all, and cut short.
echo "gain > 10 dB" >"$tmp/words.xml"
refused 3 "words.xml:1: " validate "$tmp/words.xml"
head -n 3 "$tmp/limits.xml" >"$tmp/cut.xml"
refused 3 "cut.xml:" validate "$tmp/cut.xml"
# An entity that would fetch a file.
{
    echo '<!DOCTYPE limits [<!ENTITY e SYSTEM "file:///etc/hostname">]>'
    sed 's/product="Tiny"/product="\&e;"/' "$tmp/limits.xml"
} >"$tmp/entity.xml"
refused 3 "entity.xml" validate "$tmp/entity.xml"

# Of several files the first wrong one ends it; the right ones before it are told.
run 3 validate "$tmp/limits.xml" "$tmp/unit.xml" "$tmp/limits.xml"
[ "$(grep -c ': right$' "$tmp/stdout")" -eq 1 ] || fail "not one file told as right"
finish
