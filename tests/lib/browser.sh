# shellcheck shell=bash
# Chromium and Node.js for the tests of the pages: what is installed, else Debian's. As root they are installed by the
# package manager; as an ordinary user they are unpacked beside the database's programs, and nothing is installed.
# Needs say.sh, process.sh, debian.sh, and home_dir of postgres.sh.
# Sets: chromium, node (programs to call).
# shellcheck disable=SC2154 # home_dir

chromium='' node=''

usable_node() { [ -x "$1" ] && "$1" -e 'process.exit(process.versions.node.split(".")[0] < 18 ? 1 : 0)' >/dev/null 2>&1; }

usable_chromium() { [ -n "$1" ] && "$1" --version 2>/dev/null | grep -qE '^Chromium [0-9]+'; }

# wrapper FILE FOLDER PROGRAM: a program that starts PROGRAM with the libraries unpacked beside it.
wrapper() {
  local file=$1 folder=$2 program=$3
  mkdir -p "$(dirname "$file")"
  # shellcheck disable=SC2016 # for the script that is written here
  printf '#!/bin/sh\nLD_LIBRARY_PATH=%q exec %q "$@"\n' "$(unpacked_libraries "$folder")" "$program" >"$file"
  chmod +x "$file"
}

install_debian() {
  say "Installing Debian's $*."
  attend apt-get -qq -o APT::Update::Error-Mode=any update &&
    DEBIAN_FRONTEND=noninteractive attend apt-get -qq -y --no-install-recommends install "$@"
}

find_node() {
  local folder=$home_dir/node
  node=${NODE:-$(command -v node || true)}
  if usable_node "$node" && command -v npm >/dev/null; then return; fi
  if [ "$(id -u)" = 0 ] && have apt-get; then
    install_debian nodejs npm && node=$(command -v node) && usable_node "$node" && return
  fi
  if [ ! -e "$folder" ]; then
    say "No Node.js with npm is installed; unpacking Debian's into $folder (nothing is installed)."
    unpack_debian "$folder" '^(lib.*|nodejs|npm|node-.*)$' '^(lib.*-perl|libperl.*|libllvm.*)$' nodejs npm || true
  fi
  wrapper "$home_dir/bin/node" "$folder" "$folder/usr/bin/node"
  node=$home_dir/bin/node
  export NODE_PATH=$folder/usr/share/nodejs
  npm_script=$folder/usr/share/nodejs/npm/bin/npm-cli.js
  usable_node "$node" && [ -e "$npm_script" ] ||
    fail "Node.js 18 or newer with npm is needed for the tests of the pages." \
      "Have them installed, as root:  apt-get install nodejs npm"
}

find_chromium() {
  local folder=$home_dir/chromium
  chromium=${CHROMIUM:-$(command -v chromium || true)}
  if usable_chromium "$chromium"; then return; fi
  if [ "$(id -u)" = 0 ] && have apt-get; then
    install_debian chromium && chromium=$(command -v chromium) && usable_chromium "$chromium" && return
  fi
  if [ ! -e "$folder" ]; then
    say "No Chromium is installed; unpacking Debian's into $folder (nothing is installed)."
    need_space 900 "$home_dir"
    unpack_debian "$folder" '^(lib.*|chromium(-common)?|fonts-.*|fontconfig.*)$' '^(lib.*-perl|libperl.*|libllvm.*)$' \
      chromium || true
  fi
  # The packaged starter looks for its files in the system's folders; the program beside it does not.
  wrapper "$home_dir/bin/chromium" "$folder" "$folder/usr/lib/chromium/chromium"
  chromium=$home_dir/bin/chromium
  usable_chromium "$chromium" ||
    fail "Chromium is needed for the tests of the pages and cannot be unpacked here." \
      "Have it installed, as root:  apt-get install chromium" "or name it:  CHROMIUM=/some/chromium $0"
}

# browser_packages FOLDER: fills FOLDER with what the tests need from the npm registry, once, and again when it changes.
browser_packages() {
  local folder=$1 stamp npm=(npm)
  [ -z "${npm_script:-}" ] || npm=("$node" "$npm_script")
  stamp=$(cksum <tests/browser/package-lock.json)
  if [ "$(cat "$folder/stamp" 2>/dev/null)" = "$stamp" ]; then return; fi
  mkdir -p "$folder"
  rm -f "$folder/stamp"
  cp tests/browser/package.json tests/browser/package-lock.json tests/browser/.npmrc "$folder/"
  attend "${npm[@]}" --prefix "$folder" ci --silent ||
    fail "The packages of tests/browser cannot be installed; npm's words are above." \
      "They come from the npm registry; check the network and run this again."
  printf '%s\n' "$stamp" >"$folder/stamp"
}
