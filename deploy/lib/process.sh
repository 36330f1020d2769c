# shellcheck shell=bash
# Children and ports. A long-running command is started in a process group of its own and waited for, so that
# a signal to the script is acted on at once (bash postpones traps while a foreground command runs), a Ctrl-C
# on the terminal reaches only the script, and the child gets exactly one signal: ours.
# Needs say.sh.

child=

# Starts a command in its own process group and leaves its id in `child`.
launch() {
  set -m
  "$@" </dev/null &
  child=$!
  set +m
}

# Runs a command to its end; its exit status is ours.
attend() {
  local status=0
  launch "$@"
  wait "$child" || status=$?
  child=
  return "$status"
}

# Asks the current child, with all that it started, to end; after half a minute insists.
stop_child() {
  local tenths=300 group=$child
  [ -n "$group" ] || return 0
  child=
  kill -TERM -- "-$group" 2>/dev/null || true
  while [ "$tenths" -gt 0 ] && kill -0 -- "-$group" 2>/dev/null; do
    sleep 0.1
    tenths=$((tenths - 1))
  done
  kill -KILL -- "-$group" 2>/dev/null || true
  wait "$group" 2>/dev/null || true
}

# Turns signals into an ordinary exit, so that one EXIT trap does all the cleaning up.
exit_on_signals() {
  trap 'exit 129' HUP
  trap 'exit 130' INT
  trap 'exit 143' TERM
}

# Prints the socket inodes that listen on TCP port $1, whatever the address.
listeners() {
  local hex
  hex=$(printf '%04X' "$1")
  awk -v port=":$hex" '$4 == "0A" && substr($2, length($2) - 4) == port { print $10 }' \
    /proc/net/tcp /proc/net/tcp6 2>/dev/null
}

port_taken() { [ -n "$(listeners "$1")" ]; }

# True when process $1 itself listens on port $2: somebody else's answer on that port would prove nothing.
listens() {
  local inode
  for inode in $(listeners "$2"); do
    if find "/proc/$1/fd" -lname "socket:\\[$inode\\]" 2>/dev/null | grep -q .; then return 0; fi
  done
  return 1
}

# Prints the first free port from $1 on; fails after a hundred.
free_port() {
  local port
  for ((port = $1; port < $1 + 100; port++)); do
    if ! port_taken "$port"; then
      printf '%s\n' "$port"
      return
    fi
  done
  return 1
}

# Waits until the current child itself, and nobody else, answers as ready on ADDRESS:PORT. Fails when it has ended
# or is not ready within a minute.
await_service() {
  local tenths
  for ((tenths = 0; tenths < 600; tenths++)); do
    kill -0 "$child" 2>/dev/null || return 1
    if listens "$child" "${1##*:}" && curl --noproxy '*' -fsS -o /dev/null "http://$1/health/ready" 2>/dev/null; then
      return
    fi
    sleep 0.1
  done
  return 1
}
