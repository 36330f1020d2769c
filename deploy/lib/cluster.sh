# shellcheck shell=bash
# The checkout's own database, as `deploy/up`, `deploy/postgres`, `deploy/backup` and `deploy/restore` use it:
# one cluster in home_dir/data, one lock, one mark that says it should stay up. Needs postgres.sh, which sets home_dir.
# Sets: data.
# shellcheck disable=SC2154

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

# Starts the cluster unless it runs, with login and database.
bring_up_cluster() {
  cluster_running "$data" && return
  init_cluster "$data" --data-checksums
  start_cluster "$data" </dev/null
  # CREATEROLE, because the migrations make the role that the service takes on; never superuser.
  ensure_login "$data" 'CREATEROLE NOSUPERUSER'
}
