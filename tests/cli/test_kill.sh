#!/bin/sh
# SIGKILL at each message of a test and at random moments: bias and RF off, no verdict lost or doubled.
# GAINSIEVE_KILLS says how many of the latter; with fewer than 25 the messages are sampled.
. tests/cli/helper.sh

if command -v python3 >/dev/null; then
    GAINSIEVE=$program python3 tests/fault/kill.py "${GAINSIEVE_KILLS:-25}" ||
        fail "see above; the number after \"seed\" as second argument of kill.py brings it again"
else
    echo "$name: kills are not tried: there is no python3"
fi
finish
