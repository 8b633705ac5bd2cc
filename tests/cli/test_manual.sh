#!/bin/sh
# The manual pages against the program: the examples are right files, every option and every element
# and attribute is told, the version is the program's.
. tests/cli/helper.sh

# The complete examples: the last display of each page, with its dashes as they are read.
for kind in limits bench; do
    awk '/^\.EX/ { text = ""; next } /^\.EE/ { keep = text; next } { text = text $0 "\n" }
         END { printf "%s", keep }' docs/man/gainsieve-$kind.5 | sed 's/\\-/-/g' >"$tmp/example.xml"
    run 0 validate "$tmp/example.xml"
    has stdout "example.xml: right"
    if [ $kind = limits ]; then has stdout "Limit stability: "; else has stdout "Reference unit: KW000100"; fi
done

# Every option that the commands name.
sed 's/\\-/-/g' docs/man/gainsieve.1 >"$tmp/page"
run 0 --help
commands=$(sed -n 's/^  \([a-z][a-z]*\) .*/\1/p' "$tmp/stdout")
[ -n "$commands" ] || fail "--help lists no command"
for command in $commands; do
    grep -q "^\.SS $command\$" "$tmp/page" || fail "gainsieve(1) does not tell of $command"
    run 0 "$command" --help
    for option in $(sed -n 's/^  \(--[a-z-]*\) .*/\1/p' "$tmp/stdout"); do
        grep -q -e "^\.B[IR]* $option\\b" "$tmp/page" || fail "gainsieve(1): $command $option is missing"
    done
done

# Every name that the schema gives to an element or attribute.
for schema in limits/limits.xsd drivers/bench.xsd; do
    page=gainsieve-$(basename $schema .xsd)
    sed 's/\\-/-/g' "docs/man/$page.5" >"$tmp/page"
    for word in $(sed -n 's/.*<xs:\(element\|attribute\) name="\([a-z-]*\)".*/\2/p' $schema | sort -u); do
        grep -q -e "\\b$word\\b" "$tmp/page" || fail "$page(5): $word is missing"
        [ $schema = limits/limits.xsd ] || grep -q -e "\`[<]*$word[\` >]" docs/bench.md ||
            fail "docs/bench.md: $word is missing"
    done
done

run 0 --version
version=$(cat "$tmp/stdout")
for page in docs/man/gainsieve.1 docs/man/gainsieve-limits.5 docs/man/gainsieve-bench.5; do
    grep -q "^\.TH .*\"$version\"" "$page" || fail "$page is not of $version"
    # Clean typesetting, where the tool for it is there.
    if command -v groff >/dev/null; then
        groff -t -man -ww -z "$page" >"$tmp/groff" 2>&1
        [ ! -s "$tmp/groff" ] || fail "$page: $(head -n 1 "$tmp/groff")"
    fi
done
finish
