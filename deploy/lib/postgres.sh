# shellcheck shell=bash
# A private Postgres cluster: finding or unpacking the programs, making, starting and stopping it.
#
# The cluster never listens on the network. Its socket lies in a fresh folder that only its own user (and root)
# can enter, and Postgres asks the kernel who is calling (peer), so there is no password and no port to clash.
# The system's own clusters are never touched. Needs say.sh, debian.sh.
#
# Sets: pg_dir, pg_libraries (programs), pg_user (who runs the cluster when we are root), home_dir.

readonly pg_oldest=15
pg_dir='' pg_libraries='' pg_user='' home_dir=''

# Postgres refuses to run as root; its data then belong to a system user that owns nothing else.
choose_cluster_user() {
  [ "$(id -u)" = 0 ] || return 0
  pg_user=${STILLROOM_POSTGRES_USER:-stillroom-db}
  if ! id "$pg_user" >/dev/null 2>&1; then
    useradd --system --user-group --no-create-home --home-dir /nonexistent --shell /usr/sbin/nologin "$pg_user" ||
      fail "The user $pg_user, who would run Postgres, cannot be made." \
        "Name an existing unprivileged user: STILLROOM_POSTGRES_USER=nobody, or run as an ordinary user."
    say "Made the system user $pg_user, since Postgres does not run as root."
  fi
}

as_cluster_user() {
  if [ -n "$pg_user" ]; then
    setpriv --reuid "$pg_user" --regid "$(id -g "$pg_user")" --init-groups -- "$@"
  else
    "$@"
  fi
}

# Where everything of ours lies: packages, data, the signing key. $1 is the checkout.
choose_home() {
  home_dir=${STILLROOM_HOME:-$1/.stillroom}
  if ! mkdir -p "$home_dir" 2>/dev/null || [ ! -w "$home_dir" ]; then
    fail "$home_dir cannot be written." "Name a folder that can: STILLROOM_HOME=/some/folder $0"
  fi
  home_dir=$(cd "$home_dir" && pwd -P)
  chmod 711 "$home_dir"
  if ! as_cluster_user test -x "$home_dir/."; then
    # A checkout below /root is closed to the user that must run Postgres.
    [ -z "${STILLROOM_HOME:-}" ] || fail "The user $pg_user cannot enter $home_dir." \
      "Choose a folder that every user may pass through: STILLROOM_HOME=/var/lib/stillroom $0"
    home_dir=/var/lib/stillroom/$(basename "$1")-$(cksum <<<"$1" | cut -d ' ' -f 1)
    mkdir -p "$home_dir" || fail "$home_dir cannot be made." "Name another folder: STILLROOM_HOME=/some/folder $0"
    chmod 711 /var/lib/stillroom "$home_dir"
    say "The checkout is closed to the user $pg_user, so the data are kept in $home_dir."
  fi
}

# need_space MEGABYTES FOLDER, before something is put there.
need_space() {
  local free
  free=$(df -Pk "$2" | awk 'NR == 2 { print int($4 / 1024) }')
  [ "$free" -ge "$1" ] || fail "Only $free MB are free on the disk of $2; $1 MB are needed." \
    "Make room, or use another disk: STILLROOM_HOME=/some/folder $0"
}

postgres_major() {
  LD_LIBRARY_PATH=${2-} "$1/postgres" --version 2>/dev/null | sed -nE 's/^postgres \(PostgreSQL\) ([0-9]+).*/\1/p'
}

# Takes folder $1 (its libraries in $2) if it holds a whole server of the wanted version.
take_postgres() {
  local program major
  for program in postgres initdb pg_ctl psql pg_dump pg_restore; do
    [ -x "$1/$program" ] || return 1
  done
  major=$(postgres_major "$1" "${2-}")
  [ -n "$major" ] && [ "$major" -ge "$pg_oldest" ] || return 1
  [ -z "$pg_wanted" ] || [ "$major" = "$pg_wanted" ] || return 1
  pg_dir=$1 pg_libraries=${2-}
}

take_unpacked_postgres() {
  local dir libraries missing
  for dir in "$home_dir"/postgres/usr/lib/postgresql/*/bin; do
    [ -d "$dir" ] || continue
    libraries=$(unpacked_libraries "$home_dir/postgres")
    missing=$(missing_libraries "$libraries" "$dir"/* "$dir"/../lib/{pg_trgm,btree_gist,pgcrypto,dict_snowball}.so)
    if [ -n "$missing" ]; then
      say "The unpacked Postgres lacks these libraries:" "$missing"
      continue
    fi
    if take_postgres "$dir" "$libraries"; then return 0; fi
  done
  return 1
}

# Finds the server's programs, or unpacks Debian's into home_dir. $1: the major version that existing data need.
find_postgres() {
  local pg_wanted=${1-} dir found
  if [ -n "${PG_BIN:-}" ]; then
    take_postgres "$PG_BIN" || fail "PG_BIN=$PG_BIN holds no whole PostgreSQL server${pg_wanted:+ of version $pg_wanted}." \
      "It must hold postgres, initdb, pg_ctl, psql, pg_dump and pg_restore, version $pg_oldest or newer."
    return
  fi
  if found=$(command -v pg_ctl) && take_postgres "$(dirname "$(readlink -f "$found")")"; then return; fi
  while read -r dir; do
    if take_postgres "$dir"; then return; fi
  done < <(printf '%s\n' /usr/lib/postgresql/*/bin | sort -rV)
  # One at a time: the tests and `up` may both be looking for it.
  exec 8>"$home_dir/unpack.lock"
  flock 8
  if take_unpacked_postgres; then
    exec 8>&-
    return
  fi
  say "No PostgreSQL server${pg_wanted:+ of version $pg_wanted} is installed; unpacking Debian's into $home_dir/postgres (nothing is installed)."
  need_space 400 "$home_dir"
  # The compiler of queries (LLVM, z3) is four fifths of the download and is switched off, see write_settings.
  if unpack_debian "$home_dir/postgres" '^(lib.*|postgresql(-client)?-[0-9]+)$' \
    '^(lib.*-perl|libperl.*|libllvm.*|libz3.*)$' "postgresql${pg_wanted:+-$pg_wanted}" &&
    take_unpacked_postgres; then
    exec 8>&-
    return
  fi
  rm -rf "$home_dir/postgres.part"
  fail "PostgreSQL $([ -n "$pg_wanted" ] && echo "$pg_wanted" || echo "$pg_oldest or newer") is needed and cannot be unpacked here." \
    "Have it installed, as root:  apt-get install postgresql${pg_wanted:+-$pg_wanted}" \
    "or name the folder of its programs:  PG_BIN=/some/folder $0" \
    ${pg_wanted:+"(The data in $home_dir/data are of version $pg_wanted; without them, any newer one would do.)"}
}

# pg PROGRAM ARGUMENT...: one of the server's programs, as the cluster's user.
pg() (
  local program=$1
  shift
  cd / # the caller's folder may be closed to that user
  unset "${!PG@}"
  exec 9>&- # the lock is the script's, not the server's
  as_cluster_user env LC_ALL=C LD_LIBRARY_PATH="$pg_libraries" "$pg_dir/$program" "$@"
)

# pg_client PROGRAM ARGUMENT...: one of the client programs, as whoever we are.
pg_client() {
  local program=$1
  shift
  LD_LIBRARY_PATH=$pg_libraries "$pg_dir/$program" "$@"
}

# The processes of the cluster in $1: each has its data folder as working folder.
cluster_processes() {
  local proc
  for proc in /proc/[0-9]*; do
    if [ "$proc/cwd" -ef "$1" ]; then printf '%s\n' "${proc#/proc/}"; fi
  done
}

cluster_running() {
  local pid
  pid=$(as_cluster_user head -n 1 "$1/postmaster.pid" 2>/dev/null) && [ -n "$pid" ] && [ "/proc/$pid/cwd" -ef "$1" ]
}

cluster_socket() { as_cluster_user sed -n 5p "$1/postmaster.pid"; }

# cluster_url DATA ROLE DATABASE: the connection string, its socket folder as percent-encoded host.
cluster_url() {
  local socket
  socket=$(cluster_socket "$1")
  printf 'postgresql://%s@%s/%s\n' "$2" "${socket//\//%2F}" "$3"
}

# Makes the cluster in $1 unless it is there. Further arguments go to initdb.
init_cluster() {
  local data=$1 log
  shift
  if as_cluster_user test -e "$data/PG_VERSION"; then return; fi
  [ ! -e "$data" ] || fail "$data is there but is no cluster that ${pg_user:-$(id -un)} can read." \
    "Run this as the user who made it, or move it away."
  need_space 200 "$(dirname "$data")"
  log=$(mktemp)
  rm -rf "$data.part"
  # Made under another name first: an interrupted initdb leaves nothing that looks like a cluster.
  mkdir -p "$data.part" && chmod 700 "$data.part"
  [ -z "$pg_user" ] || chown "$pg_user:" "$data.part"
  if ! pg initdb -D "$data.part" -U postgres --encoding=UTF8 --locale=C.UTF-8 --auth-local=peer --auth-host=reject \
    "$@" >"$log" 2>&1; then
    rm -rf "$data.part"
    tail -n 5 "$log" >&2
    rm -f "$log"
    fail "The database cluster cannot be made in $data." "See the lines above: mostly a full disk or a folder without the right to write."
  fi
  rm -f "$log"
  # shellcheck disable=SC2016 # the inner shell expands it
  as_cluster_user sh -c 'echo "include '\''stillroom.conf'\''" >>"$1/postgresql.conf"' _ "$data.part"
  mv -T "$data.part" "$data"
}

# Writes as the cluster's user: as root we follow no link that someone else could have laid there.
# shellcheck disable=SC2016 # the inner shell expands it
write_cluster_file() { as_cluster_user sh -c 'cat >"$1"' _ "$1"; }

# The settings of this start; further ones come on standard input.
write_settings() {
  local data=$1 socket=$2
  {
    printf "listen_addresses = ''\nport = 5432\nunix_socket_directories = '%s'\nunix_socket_permissions = 0700\n" "$socket"
    # Our queries are short: compiling them costs more than it saves, and the compiler is not always unpacked.
    printf "jit = off\nlog_checkpoints = off\nlog_line_prefix = '%%m [%%p] %%q%%u@%%d '\n"
    cat
  } | write_cluster_file "$data/stillroom.conf"
  printf 'local all all peer map=stillroom\n' | write_cluster_file "$data/pg_hba.conf"
  write_login_map "$data"
}

# Who may sign in under which login: the user who runs the cluster, and root where that is another.
write_login_map() {
  local data=$1 owner=${pg_user:-$(id -un)} role
  for role in postgres stillroom stillroom_app; do
    printf 'stillroom "%s" %s\n' "$owner" "$role"
    [ -z "$pg_user" ] || printf 'stillroom root %s\n' "$role"
  done | write_cluster_file "$data/pg_ident.conf"
}

# Starts the cluster in $1, which must not be running; further settings come on standard input.
start_cluster() {
  local data=$1 leftover socket
  if as_cluster_user test -e "$data/postmaster.pid"; then
    leftover=$(cluster_processes "$data" | tr '\n' ' ')
    [ -z "$leftover" ] || fail "Processes of a crashed Postgres still use $data: $leftover" \
      "Wait a moment and run this again, or end them: kill $leftover"
    socket=$(cluster_socket "$data")
    case $socket in /tmp/stillroom.*) rm -rf "$socket" ;; esac
    # Nothing runs there: the number in the file is dead, or another program has it by now.
    rm -f "$data/postmaster.pid"
  fi
  # A fresh folder with a short name: a socket's path may have 107 bytes, and a checkout's is often longer.
  socket=$(as_cluster_user mktemp -d /tmp/stillroom.XXXXXXXX) || fail "No folder for the socket can be made in /tmp."
  write_settings "$data" "$socket"
  if ! pg pg_ctl -D "$data" -l "$data/server.log" -w -t 120 -s start </dev/null >&2; then
    as_cluster_user tail -n 8 "$data/server.log" >&2 || true
    rm -rf "$socket"
    fail "Postgres did not start; its last words are above (all: $data/server.log)." \
      "'No space left': make room, or STILLROOM_HOME=/another/disk." \
      "'Permission denied': give $data to ${pg_user:-$(id -un)}, for whom it was not made." \
      "'shared memory': another Postgres may still use these data; end it first."
  fi
}

# Stops the cluster in $1 if it runs and removes its socket folder.
stop_cluster() {
  local data=$1 socket
  cluster_running "$data" || return 0
  socket=$(cluster_socket "$data")
  pg pg_ctl -D "$data" -m fast -w -t 120 -s stop >&2 || pg pg_ctl -D "$data" -m immediate -w -s stop >&2 || return 1
  case $socket in /tmp/stillroom.*) rm -rf "$socket" ;; esac
}

# Makes, unless they are there: the login `stillroom` with the given role attributes, which owns the database and runs the
# migrations; its database; and the login `stillroom_app`, under which the service runs and which owns nothing.
ensure_logins() {
  local data=$1 attributes=$2
  pg psql -X -q -v ON_ERROR_STOP=1 -d "$(cluster_url "$data" postgres postgres)" <<SQL >/dev/null
SELECT 'CREATE ROLE stillroom LOGIN' WHERE NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'stillroom') \gexec
ALTER ROLE stillroom $attributes;
SELECT 'CREATE ROLE stillroom_app LOGIN' WHERE NOT EXISTS (SELECT FROM pg_roles WHERE rolname = 'stillroom_app') \gexec
-- Since Postgres 16 a role is prepared by whoever administers it, and no longer by everybody who may make roles.
GRANT stillroom_app TO stillroom WITH ADMIN OPTION;
SELECT 'CREATE DATABASE stillroom OWNER stillroom' WHERE NOT EXISTS (SELECT FROM pg_database WHERE datname = 'stillroom') \gexec
SQL
}
