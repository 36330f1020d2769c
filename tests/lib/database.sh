# shellcheck shell=bash
# A throw-away Postgres for the tests: made, used and removed by one run, without a thought for durability.
# Needs say.sh, debian.sh, postgres.sh. Sets: scratch (a folder that goes with the run).
# shellcheck disable=SC2154 # home_dir, pg_dir, pg_libraries

scratch=''

# Removes what runs left behind that were killed outright. A living run holds the lock in its folder.
sweep_leftovers() {
  local folder
  for folder in "$home_dir"/tests.*; do
    [ -e "$folder/lock" ] || continue
    if flock --nonblock "$folder/lock" true; then
      stop_cluster "$folder/data"
      rm -rf "$folder"
    fi
  done
}

# As start_test_database, but what was committed is on disk.
start_durable_database() { start_test_database on; }

# Starts it and exports TEST_DATABASE_URL, a login that may make databases and roles but is no superuser, and
# TEST_PG_BIN, a folder with psql, pg_dump, pg_restore and pgbench to call.
start_test_database() {
  local program durable=${1:-off}
  sweep_leftovers
  scratch=$(mktemp -d "$home_dir/tests.XXXXXXXX")
  exec 9>"$scratch/lock"
  flock 9
  chmod 711 "$scratch"
  init_cluster "$scratch/data" --no-sync
  start_cluster "$scratch/data" <<CONF
max_connections = 300
fsync = $durable
full_page_writes = $durable
synchronous_commit = $durable
CONF
  ensure_login "$scratch/data" 'CREATEDB CREATEROLE NOSUPERUSER'
  mkdir "$scratch/bin"
  for program in psql pg_dump pg_restore pgbench; do
    # The libraries beside unpacked programs are for these programs only.
    # shellcheck disable=SC2016 # for the script that is written here
    printf '#!/bin/sh\nLD_LIBRARY_PATH=%q exec %q "$@"\n' "$pg_libraries" "$pg_dir/$program" >"$scratch/bin/$program"
    chmod +x "$scratch/bin/$program"
  done
  TEST_DATABASE_URL=$(cluster_url "$scratch/data" stillroom postgres)
  TEST_PG_BIN=$scratch/bin
  export TEST_DATABASE_URL TEST_PG_BIN
}

remove_test_database() {
  [ -n "$scratch" ] || return 0
  stop_cluster "$scratch/data" || true
  rm -rf "$scratch"
}
