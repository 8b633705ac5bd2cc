#!/bin/sh
# Looks at the pages in a browser: `make test-browser`. Installs what is missing, makes reports in a
# temporary folder, runs every test. Packages and pictures of pages go to build/browser.
# Usage: run.sh [TEST.mjs...]; GAINSIEVE names the program.
set -u
cd "$(dirname "$0")/../.." || exit 1
program=${GAINSIEVE:-build/gainsieve}
home=build/browser

# Debian packages: install what is missing, say which; without root only say so.
missing=
need()
{
    command -v "$1" >/dev/null || missing="$missing $2"
}
need chromium chromium
need node nodejs
need npm npm
need pdftotext poppler-utils
need java default-jre-headless
if [ -n "$missing" ]; then
    if [ "$(id -u)" != 0 ] || ! command -v apt-get >/dev/null; then
        echo "test-browser: missing:$missing"
        echo "test-browser: as root: apt-get install$missing"
        exit 1
    fi
    echo "test-browser: installing$missing"
    apt-get update -q >/dev/null &&
        DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends $missing \
            >/dev/null || exit 1
fi

# Node packages, at the versions of package.json, outside the source tree.
mkdir -p "$home/screens"
if ! cmp -s tests/browser/package.json "$home/package.json" || [ ! -f "$home/installed" ]; then
    echo "test-browser: installing the packages of tests/browser/package.json"
    cp tests/browser/package.json "$home/package.json"
    rm -rf "$home/installed" "$home/node_modules"
    (cd "$home" && npm install --no-package-lock --no-audit --no-fund --loglevel=error >/dev/null) ||
        exit 1
    touch "$home/installed"
fi

tmp=$(mktemp -d "${TMPDIR:-/tmp}/gainsieve-browser-XXXXXX") || exit 1
trap 'rm -rf "$tmp"' EXIT
trap 'exit 1' INT TERM HUP
export GAINSIEVE="$program" BROWSER_HOME="$home" REPORTS="$tmp"
node tests/browser/make_reports.mjs || exit 1

run()
{
    n_at_once=$1
    shift
    node --test --test-concurrency="$n_at_once" --test-reporter=spec "$@"
}

if [ $# -gt 0 ]; then
    run 1 "$@"
    exit
fi
# Times are taken with nothing beside them.
run 1 tests/browser/scale.mjs
scale=$?
run 2 tests/browser/table.mjs tests/browser/find.mjs tests/browser/keyboard.mjs \
    tests/browser/trace.mjs tests/browser/no_script.mjs tests/browser/print.mjs \
    tests/browser/rules.mjs tests/browser/width.mjs && exit "$scale"
