# shellcheck shell=bash
# The checkout's own database, as `deploy/up`, `deploy/postgres`, `deploy/backup` and `deploy/restore` use it:
# one cluster in home_dir/data, one lock, one mark that says it should stay up. Needs postgres.sh, which sets home_dir.
# Sets: data.
# shellcheck disable=SC2154,SC2034

data=''

# Chooses user, folders and programs. $1 is the checkout.
prepare_cluster() {
  local version
  choose_cluster_user
  choose_home "$1"
  data=$home_dir/data
  version=$(as_cluster_user cat "$data/PG_VERSION" 2>/dev/null) || version=
  find_postgres "$version"
}

# Holds the lock on home_dir until the script ends; a second holder is told to wait its turn.
lock_home() {
  exec 9>"$home_dir/lock"
  flock --nonblock 9 || fail "Another command is using $home_dir (./deploy/up, perhaps)." \
    "Stop that one first, or give this one its own folder: STILLROOM_HOME=/some/folder $0"
}

# Starts the cluster unless it runs, with logins and database.
bring_up_cluster() {
  if cluster_running "$data"; then
    # It may have been started by a version that knew one login.
    write_login_map "$data"
    pg pg_ctl -D "$data" -s reload
  else
    init_cluster "$data" --data-checksums
    start_cluster "$data" </dev/null
  fi
  # CREATEROLE, because the migrations make the role that the service acts in; never superuser.
  ensure_logins "$data" 'CREATEROLE NOSUPERUSER'
}

started_here=no connection=''

# For a command that needs the database for a moment: DATABASE_URL as it is set, else the private cluster, started
# if it does not run. Sets DATABASE_URL; close_database, called on exit, stops what was started here.
open_database() {
  if [ -n "${DATABASE_URL:-}" ]; then
    choose_home "$1"
    find_postgres ''
    return
  fi
  prepare_cluster "$1"
  if ! cluster_running "$data"; then
    as_cluster_user test -e "$data/PG_VERSION" || fail "There is no database in $home_dir." \
      "Name one: DATABASE_URL=postgresql://... $0, or make it: ./deploy/up"
    lock_home
    started_here=yes
    bring_up_cluster
  fi
  DATABASE_URL=$(cluster_url "$data" stillroom stillroom)
}

close_database() {
  if [ "$started_here" = yes ]; then stop_cluster "$data"; fi
}

# Takes the password out of connection string $1, for other users can read a program's arguments.
# Sets: connection, and PGPASSWORD for the programs that are started.
hide_password() {
  connection=$1
  if [[ $1 =~ ^(postgres(ql)?://[^:@/?]*):([^@/]*)@(.*)$ ]]; then
    connection=${BASH_REMATCH[1]}@${BASH_REMATCH[4]}
    printf -v PGPASSWORD '%b' "${BASH_REMATCH[3]//%/\\x}"
    export PGPASSWORD
  fi
}
