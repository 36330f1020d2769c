# shellcheck shell=bash
# A throw-away Postgres for the tests: made, used and removed by one run.
# Needs say.sh, debian.sh, postgres.sh. Sets: scratch (a folder that goes with the run).
# shellcheck disable=SC2154 # checkout, home_dir, pg_dir, pg_libraries

scratch=''
# Without a thought for durability; whoever tests or measures that sets others.
fleeting=$'max_connections = 300\nfsync = off\nfull_page_writes = off\nsynchronous_commit = off'
test_settings=$fleeting
memory=/dev/shm

# Removes what runs left behind that were killed outright. A living run holds the lock in its folder.
sweep_leftovers() {
  local folder
  for folder in "$home_dir"/tests.* "$memory"/stillroom-tests.*; do
    [ -O "$folder/lock" ] || continue
    if flock --nonblock "$folder/lock" true; then
      stop_poolers "$folder/data"
      stop_cluster "$folder/data"
      rm -rf "$folder"
    fi
  done
}

# Makes the folder of a run. A database that need not last lies in memory where there is room for it: making and dropping
# one for each test costs a file system on disk more than a tenth of the whole run. Programs are run from the folder, which
# a container may forbid there.
make_scratch() {
  local free
  if [ "$test_settings" = "$fleeting" ] && [ -w "$memory" ]; then
    free=$({ df -Pk "$memory" | awk 'NR == 2 { print $4 }'; awk '/^MemAvailable/ { print int($2 / 2) }' /proc/meminfo; } |
      sort -n | head -n 1)
    if [ "$free" -ge 4000000 ]; then
      scratch=$(mktemp -d "$memory/stillroom-tests.XXXXXXXX")
      chmod 711 "$scratch"
      printf '#!/bin/sh\n' >"$scratch/runs"
      chmod +x "$scratch/runs"
      if "$scratch/runs" 2>/dev/null && as_cluster_user test -x "$scratch/."; then return; fi
      rm -rf "$scratch"
    fi
  fi
  scratch=$(mktemp -d "$home_dir/tests.XXXXXXXX")
  chmod 711 "$scratch"
}

# Starts it and exports
#   TEST_DATABASE_URL          of a login that may make databases and roles and owns them, but is no superuser
#   TEST_SERVICE_DATABASE_URL  of the login that the service runs under: the same server, another login
#   TEST_PG_BIN                a folder with psql, pg_dump, pg_restore and pgbench to call
start_test_database() {
  local program
  sweep_leftovers
  make_scratch
  exec 9>"$scratch/lock"
  flock 9
  init_cluster "$scratch/data" --no-sync
  start_cluster "$scratch/data" <<<"$test_settings"
  ensure_logins "$scratch/data" 'CREATEDB CREATEROLE NOSUPERUSER'
  prepare_service_login
  let_made_logins_in
  mkdir "$scratch/bin"
  for program in psql pg_dump pg_restore pgbench; do
    # The libraries beside unpacked programs are for these programs only.
    # shellcheck disable=SC2016 # for the script that is written here
    printf '#!/bin/sh\nLD_LIBRARY_PATH=%q exec %q "$@"\n' "$pg_libraries" "$pg_dir/$program" >"$scratch/bin/$program"
    chmod +x "$scratch/bin/$program"
  done
  TEST_DATABASE_URL=$(cluster_url "$scratch/data" stillroom postgres)
  TEST_SERVICE_DATABASE_URL=$(cluster_url "$scratch/data" stillroom_app postgres)
  TEST_PG_BIN=$scratch/bin
  export TEST_DATABASE_URL TEST_SERVICE_DATABASE_URL TEST_PG_BIN
}

# What the first migration does is done ahead, once for all databases of this cluster, whose tests run at the same time.
prepare_service_login() {
  pg psql -X -q -v ON_ERROR_STOP=1 -v login=stillroom_app -d "$(cluster_url "$scratch/data" postgres postgres)" \
    < <(
      echo 'CREATE ROLE stillroom_service NOLOGIN;'
      echo 'GRANT stillroom_service TO stillroom WITH ADMIN OPTION; GRANT stillroom_service TO stillroom_app;'
      cat "$checkout/services/store/src/login.sql"
    )
}

# Logins of these names, which tests make, come in by their password, as in a server that is not ours.
let_made_logins_in() {
  {
    printf 'local all made_by_owner,made_without_rights scram-sha-256\n'
    as_cluster_user cat "$scratch/data/pg_hba.conf"
  } | write_cluster_file "$scratch/data/pg_hba.new"
  as_cluster_user mv "$scratch/data/pg_hba.new" "$scratch/data/pg_hba.conf"
  pg pg_ctl -D "$scratch/data" -s reload
}

remove_test_database() {
  [ -n "$scratch" ] || return 0
  stop_poolers "$scratch/data"
  stop_cluster "$scratch/data" || true
  rm -rf "$scratch"
}
