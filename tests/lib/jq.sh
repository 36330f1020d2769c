# shellcheck shell=bash
# jq, which the README's walk is read with: the machine's own, else Debian's, unpacked beside the database's programs.
# Needs say.sh, debian.sh, and home_dir of postgres.sh. Puts it on the PATH.
# shellcheck disable=SC2154 # home_dir

find_jq() {
  local unpacked=$home_dir/jq
  if have jq; then return; fi
  exec 8>"$home_dir/unpack.lock"
  flock 8
  if [ ! -x "$unpacked/start/jq" ]; then
    say "jq is not installed; unpacking Debian's into $unpacked (nothing is installed)."
    unpack_debian "$unpacked" '^(jq|libjq.*|libonig.*)$' '-dev$' jq ||
      fail "jq is needed for the test of the README and cannot be unpacked here." \
        "Have it installed, as root:  apt-get install jq"
    mkdir "$unpacked/start"
    printf '#!/bin/sh\nLD_LIBRARY_PATH=%q exec %q "$@"\n' "$(unpacked_libraries "$unpacked")" \
      "$unpacked/usr/bin/jq" >"$unpacked/start/jq"
    chmod +x "$unpacked/start/jq"
  fi
  exec 8>&-
  PATH=$unpacked/start:$PATH
}
