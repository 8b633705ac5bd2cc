#!/bin/sh
# What machines keep: sizes, include direction, one library one file, nothing printed below runner/,
# banned functions, a test for each module and a module for each test, comments on public functions.
# Prints FILE:LINE: words for each finding and ends with 1 if there is any.
set -u
cd "$(dirname "$0")/.." || exit 1
found=$(mktemp) || exit 1
trap 'rm -f "$found"' EXIT

sources=$(git ls-files -co --exclude-standard 'drivers/*.[ch]' 'limits/*.[ch]' 'reports/*.[ch]' 'runner/*.[ch]')
below_runner=$(echo "$sources" | grep -v '^runner/')

# Lines of a file, lines of a function.
for file in $(git ls-files -co --exclude-standard '*.c' '*.h' '*.css' '*.js' '*.mjs' '*.sh' '*.py'); do
    [ -f "$file" ] || continue
    lines=$(wc -l <"$file")
    [ "$lines" -le 500 ] || echo "$file:1: $lines lines, more than 500" >>"$found"
done
if command -v pmccabe >/dev/null; then
    pmccabe $(git ls-files -co --exclude-standard 'drivers/*.c' 'limits/*.c' 'reports/*.c' 'runner/*.c' 'tests/*.c') |
        awk '$5 > 60 { sub(/\(/, ":", $6); sub(/\):/, "", $6); print $6 ": " $7 " has " $5 " lines, more than 60" }' >>"$found"
else
    echo "lint: pmccabe is not installed; function lengths were not looked at"
fi

# wrong PATTERN WORDS FILE...: every line that matches is a finding.
wrong() {
    pattern=$1
    words=$2
    shift 2
    [ $# -eq 0 ] || grep -nE "$pattern" "$@" /dev/null | sed -E "s|^([^:]*:[0-9]*):.*|\1: $words|" >>"$found"
}
pick() {
    echo "$sources" | grep -E "$1" | grep -vE "${2:-^$}"
}

# Include direction.
wrong '^#include "(drivers/[a-z_0-9]*\.h|limits/|reports/|runner/)' 'base includes what stands above it' $(pick '^drivers/base/')
wrong '^#include "(limits|reports|runner)/' 'drivers include what stands above them' $(pick '^drivers/')
wrong '^#include "(reports|runner)/' 'limits include what stands above them' $(pick '^limits/')
wrong '^#include "runner/' 'reports include the runner' $(pick '^reports/')
wrong '^#include "drivers/(touchstone|archive|board|sweep_csv|sweep_file)' 'only sweep.h, measurement.h and network.h are for limits and reports' $(pick '^(limits|reports)/')

wrong '^#include "([^/"]*|\.\.?/[^"]*)"' 'an own file is named from the top, "drivers/sweep.h"' $sources
wrong '^#include "tests/' 'the program includes a test' $sources

# A library in one module only.
wrong '#include <libxml/' 'libxml2 belongs to base/xml.c and reports/html.c' $(pick '.' '^(drivers/base/xml|reports/html)\.c$')
wrong '#include <csv.h>' 'libcsv belongs to base/csv.c' $(pick '.' '^drivers/base/csv\.c$')
wrong '#include <gsl/' 'GSL belongs to limits/statistics.c' $(pick '.' '^limits/statistics\.c$')

wrong '#include <libserialport.h>' 'libserialport belongs to link_serial.c' $(pick '.' '^drivers/link_serial\.c$')
wrong '#include <sqlite3.h>' 'SQLite belongs to runner/record_db' $(pick '.' '^runner/record_db\.[ch]$')
wrong '#include <nettle/' 'nettle belongs to base/digest.c' $(pick '.' '^drivers/base/digest\.c$')

# Nothing prints or ends the program below runner/.
wrong '(^|[^a-z_])(printf|puts|putchar|perror|exit|_exit|abort)\(' 'prints or ends the program below runner/' $below_runner
wrong '(^|[^a-z_])(fprintf|vprintf|vfprintf|dprintf|fputs|fputc|putc|fwrite)\(' 'prints below runner/' $below_runner
wrong '(^|[^a-z_])(stdout|stderr)([^a-z_]|$)' 'names an output of the program below runner/' $below_runner

# Banned functions.
wrong '(^|[^a-z_])(malloc|calloc|realloc|strdup|strndup|atof|atoi|sprintf|vsprintf|strcpy|strcat|strtok|gmtime|localtime|system|alloca|setlocale)\(' 'uses a banned function' $(pick '.' '^drivers/base/memory\.c$')
wrong '(^|[^a-z_])(strtod|strtod_l|strtol|strtoul|sscanf)\(' 'reads a number past base/number.c' $(pick '.' '^drivers/base/number\.c$')

# A struct is called a struct.
wrong '^ *typedef (struct|union|enum)' 'hides a struct behind a typedef' $sources

# The project speaks of the project alone. The brackets keep these lines from finding themselves.
wrong '(^|[^a-zA-Z0-9._-])/(work|home|root)[/]|/tmp/[b]ash_' 'holds a path of some machine' \
    $(git ls-files -co --exclude-standard)

# Each module has a test of its name, and each test a module.
for file in $(pick '\.c$' '^runner/(main|cmd_.*)\.c$'); do
    name=$(basename "$file" .c)
    [ -f "tests/unit/test_$name.c" ] || echo "$file:1: has no tests/unit/test_$name.c" >>"$found"
done

# ... or a helper of tests/; "hostile" says that it attacks, and more words may follow the name.
names=$(for file in $sources tests/*.h; do basename "${file%.[ch]}"; done | sort -u)
for file in $(git ls-files -co --exclude-standard 'tests/unit/*.c'); do
    [ -f "$file" ] || continue
    name=$(basename "$file" .c)
    echo "$names" | awk -v test="${name#test_}" '
        { sub(/^hostile_/, "", test) }
        index(test, $0) == 1 { known = 1 }
        END { exit !known }' || echo "$file:1: is not named after a module" >>"$found"
done

# A comment above each public function, or above the group that it stands in.
for file in $(pick '\.h$'); do
    awk -v file="$file" '
        /^\/\*|^ \*|\*\/$/ { documented = 1 }
        /^$/ { documented = 0 }
        /^[a-z].*\(/ && !/^typedef|^static|^extern|__attribute__/ && !documented {
            print file ":" FNR ": a public function without a comment" }
    ' "$file" >>"$found"
done

cat "$found"
[ ! -s "$found" ]
