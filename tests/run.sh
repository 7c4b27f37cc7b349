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

left_out() { # what, and what it needs
  echo "left out: $1 (needs $2)"
  [ "${NO_SKIPS:-}" != 1 ] || failed=1
}

run() { # what it is, pytest's arguments...
  local what="$1"
  shift
  echo "== $what"
  "$BIN/pytest" "$@"
  case $? in
    0) ;;
    5) left_out "$what" "a test" ;; # nothing of this layer was found
    *) failed=1 ;;
  esac
}

run "engine, trade, records, pages" -n 2 --dist worksteal -m "not browser and not served"
run "browser, and processes of their own" -p no:xdist -m "browser or served"
if [ -n "${TEST_POSTGRES_URL:-}" ]; then
  export DATABASE_URL="$TEST_POSTGRES_URL"
  run "records and pages on PostgreSQL" -n 2 --dist worksteal -m "db" --migrations
  if [ -n "${TEST_REDIS_URL:-}" ]; then
    REDIS_URL="$TEST_REDIS_URL" run "processes of their own on PostgreSQL and Redis" -p no:xdist -m "served"
  else
    left_out "processes of their own on PostgreSQL and Redis" TEST_REDIS_URL
  fi
else
  left_out "records and pages on PostgreSQL" TEST_POSTGRES_URL
fi
"$BIN/python" -m tests.tally "$TALLY"
exit $failed
