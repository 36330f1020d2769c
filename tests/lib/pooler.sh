# shellcheck shell=bash
# A pooler in transaction mode before the throw-away Postgres: the machine's own PgBouncer if it is new enough, else
# Debian's, unpacked beside the database's programs. Nothing is installed.
# Needs say.sh, debian.sh, postgres.sh, database.sh. Sets: pooler (its command line).
# shellcheck disable=SC2154 # home_dir, scratch

# Before 1.21 a pooler in transaction mode loses prepared statements.
readonly pooler_oldest=1.21
pooler=()

# True when the given command line is a PgBouncer that is new enough.
usable_pooler() {
  local version
  version=$("$@" --version 2>/dev/null | sed -nE 's/^PgBouncer ([0-9.]+).*/\1/p')
  [ -n "$version" ] && printf '%s\n%s\n' "$pooler_oldest" "$version" | sort --check=quiet --version-sort
}

take_unpacked_pooler() {
  local start=()
  start_of_unpacked "$home_dir/pgbouncer" usr/sbin/pgbouncer && usable_pooler "${start[@]}" || return 1
  pooler=("${start[@]}")
}

find_pooler() {
  local found
  for found in "$(command -v pgbouncer)" /usr/sbin/pgbouncer; do
    if [ -x "$found" ] && usable_pooler "$found"; then
      pooler=("$found")
      return
    fi
  done
  exec 8>"$home_dir/unpack.lock"
  flock 8
  if ! take_unpacked_pooler; then
    say "No PgBouncer $pooler_oldest or newer is installed; unpacking Debian's into $home_dir/pgbouncer (nothing is installed)."
    need_space 100 "$home_dir"
    # Debian's release in force: that of this machine may be older, and have an older one.
    from_release=stable unpack_debian "$home_dir/pgbouncer" '^(lib(c6|cares2|event.*|pam0g|ssl.*|systemd0|cap2|cap-ng0|audit1|zstd1|z1|lzma5|lz4.*|gcrypt.*|gpg-error0|gcc-s1)|zlib1g|pgbouncer)$' \
      '-(dev|bin|common)$' pgbouncer && take_unpacked_pooler || {
      rm -rf "$home_dir/pgbouncer.part"
      fail "PgBouncer $pooler_oldest or newer is needed for the tests behind a pooler and cannot be unpacked here." \
        "Have it installed, as root:  apt-get install pgbouncer"
    }
  fi
  exec 8>&-
}

# start_pooler NAME PORT SETTING...: a pooler with few connections to the throw-away Postgres, listening in the folder of
# its socket, which only its own user can enter. Prints its address under the service's login.
start_pooler() {
  local name=$1 port=$2 folder socket
  shift 2
  socket=$(cluster_socket "$scratch/data")
  as_cluster_user mkdir "$scratch/data/$name"
  folder=$scratch/data/$name
  printf '"%s" ""\n' stillroom_app pooler_admin | write_cluster_file "$folder/users"
  {
    printf '[databases]\n* = host=%s port=5432\n[pgbouncer]\n' "$socket"
    printf '%s\n' 'listen_addr =' "listen_port = $port" "unix_socket_dir = $socket" 'unix_socket_mode = 0700' \
      'auth_type = trust' "auth_file = $folder/users" "logfile = $folder/log" "pidfile = $folder/pid" \
      'pool_mode = transaction' 'admin_users = pooler_admin' 'server_login_retry = 1' 'default_pool_size = 2' 'max_client_conn = 1000' 'query_wait_timeout = 20' "$@"
  } | write_cluster_file "$folder/settings"
  (cd / && as_cluster_user "${pooler[@]}" --quiet --daemon "$folder/settings" 9>&- </dev/null >&2) ||
    fail "PgBouncer does not start:" "$(as_cluster_user tail -n 5 "$folder/log")"
  printf 'postgresql://stillroom_app@%s:%s/postgres\n' "${socket//\//%2F}" "$port"
}

# Starts the poolers of the tests and exports TEST_POOLER_URL, of one that keeps prepared statements, and
# TEST_FORGETFUL_POOLER_URL, of one that does not.
start_poolers() {
  find_pooler
  TEST_POOLER_URL=$(start_pooler pooler 6432 'max_prepared_statements = 100')
  TEST_FORGETFUL_POOLER_URL=$(start_pooler forgetful 6433 'max_prepared_statements = 0')
  export TEST_POOLER_URL TEST_FORGETFUL_POOLER_URL
}

# Ends the poolers of the cluster in $1: a process whose command line names settings there.
stop_poolers() {
  local file pid
  for file in "$1"/*/pid; do
    pid=$(as_cluster_user cat "$file" 2>/dev/null) || continue
    if tr '\0' ' ' <"/proc/$pid/cmdline" 2>/dev/null | grep -qF "${file%/pid}/settings"; then
      kill -INT "$pid" 2>/dev/null || true
    fi
  done
}
