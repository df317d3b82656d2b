#!/usr/bin/env bash
# test.sh [ctest options]   installs what is missing, builds the release preset and runs every test, for example
#   scripts/test.sh -R house:      only the tests of the house
# Tests that could not run here are listed with their reason; the closing line of ctest comes last.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

scripts/install-deps.sh test
scripts/build.sh release

log=$(mktemp)
trap 'rm -f "$log"' EXIT
status=0
ctest --preset release --parallel "$(nproc)" "$@" 2>&1 | tee "$log" || status=$?

tests=build/release/Testing/Temporary/LastTest.log
if grep -q '\*\*\*Skipped' "$log" && [[ -f $tests ]]; then
  printf '\nNot run here:\n'
  awk '/^[0-9]+\/[0-9]+ Testing: /{name=$3} /^(SKIP|skipped|SKIPPED):|Skipped$/{print "  " name ": " $0}' "$tests" | sort -u
fi
closing=$(grep -E '^[0-9]+% tests passed, ' "$log" | tail -n 1 || true)
printf '\n%s\n' "${closing:-no test was run}"
[[ -n $closing ]] || exit 1
exit "$status"
