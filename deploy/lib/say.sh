# shellcheck shell=bash
# Messages. Everything a person should read goes to standard error, so that commands whose output is meant for
# another program (a connection string, a list) stay clean.

# Each argument is a line.
say() { printf '%s\n' "$@" >&2; }

# Says what is wrong and what to do about it, one line each, and ends the script. The traps clean up.
fail() {
  printf 'stillroom: %s\n' "$1" >&2
  shift
  local line
  for line in "$@"; do printf '  %s\n' "$line" >&2; done
  exit 1
}

have() { command -v "$1" >/dev/null 2>&1; }
