#!/usr/bin/env bash
# Every test there is, with what this machine has; `make test` calls it with BIN set.
#   TEST_SIZE          small (unless said), full or soak: how long the long runs are
#   TEST_POSTGRES_URL  a server on which to run the records and pages a second time
#   TEST_REDIS_URL     a broker for the tests that talk to processes of their own
#   NO_SKIPS=1         anything left out is a failure
set -uo pipefail
cd "$(dirname "$0")/.."
TALLY="$(mktemp -d)"
export TALLY
trap 'rm -rf "$TALLY"' EXIT
failed=0

run() { # what it is, pytest's arguments...
  local what="$1"
  shift
  echo "== $what"
  "$BIN/pytest" "$@"
  case $? in 0 | 5) ;; *) failed=1 ;; esac # 5: nothing of this layer
}

run "engine, trade, records, pages" -n 2 -m "not browser and not served"
run "browser, and processes of their own" -p no:xdist -m "browser or served"
if [ -n "${TEST_POSTGRES_URL:-}" ]; then
  export DATABASE_URL="$TEST_POSTGRES_URL"
  run "records and pages on PostgreSQL" -n 2 -m "db" --migrations
  if [ -n "${TEST_REDIS_URL:-}" ]; then
    REDIS_URL="$TEST_REDIS_URL" run "processes of their own on PostgreSQL and Redis" -p no:xdist -m "served"
  fi
else
  echo "left out: records and pages on PostgreSQL (needs TEST_POSTGRES_URL)"
  [ "${NO_SKIPS:-}" != 1 ] || failed=1
fi
"$BIN/python" -m tests.tally "$TALLY"
exit $failed
