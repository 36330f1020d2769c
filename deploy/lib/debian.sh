# shellcheck shell=bash
# Unpacks Debian packages into a folder of our own, for whoever may not, or would rather not, install anything.
# Nothing on the system changes: package lists, downloads and files all stay below the given folder.
# Needs say.sh.

# Runs one of apt's commands with lists and cache of its own below folder $1.
apt_private() {
  local dir=$1 tool=$2
  shift 2
  # As root, apt would hand the download to its own user, who may not be able to reach our folder.
  "$tool" -q -o Dir::State::Lists="$dir/lists" -o Dir::Cache="$dir/cache" -o APT::Sandbox::User=root "$@"
}

# unpack_debian FOLDER KEEP DROP PACKAGE...
# Downloads the packages, and of what they depend on and this system lacks those whose names match the extended
# regular expression KEEP and not DROP, checks them against the signed lists (apt does) and unpacks them into
# FOLDER, which exists afterwards wholly or not at all. Returns 1 when that cannot be; says why on the way.
unpack_debian() {
  local folder=$1 keep=$2 drop=$3
  shift 3
  local part="$folder.part" apt plan packages deb
  if ! have apt-get || ! have dpkg-deb; then
    say "This is not a Debian system (no apt-get), so nothing can be unpacked here."
    return 1
  fi
  rm -rf "$part"
  apt="$part/apt"
  mkdir -p "$apt/lists/partial" "$apt/cache/archives/partial" "$apt/debs" "$part/root" || return 1
  if ! apt_private "$apt" apt-get -o APT::Update::Error-Mode=any update >"$apt/log" 2>&1; then
    say "Debian's package lists cannot be fetched:" "$(tail -n 3 "$apt/log")"
    return 1
  fi
  # A simulated installation is the package manager's own answer to "what is missing here".
  if ! plan=$(apt_private "$apt" apt-get --simulate --no-install-recommends install "$@" 2>"$apt/log"); then
    say "Debian's package manager cannot plan for $*:" "$(tail -n 3 "$apt/log")"
    return 1
  fi
  packages=$(awk '$1 == "Inst" { print $2 }' <<<"$plan" | grep -E "$keep" | grep -vE "$drop") || {
    say "There is nothing to unpack for $*."
    return 1
  }
  # shellcheck disable=SC2086 # one word for each package
  if ! (cd "$apt/debs" && apt_private "$apt" apt-get download $packages >"$apt/log" 2>&1); then
    say "Debian's packages cannot be downloaded:" "$(tail -n 3 "$apt/log")"
    return 1
  fi
  for deb in "$apt"/debs/*.deb; do
    dpkg-deb --extract "$deb" "$part/root" || return 1
  done
  rm -rf "$folder"
  mv "$part/root" "$folder" || return 1
  rm -rf "$part"
}

# The value for LD_LIBRARY_PATH that lets programs of such a folder find the libraries beside them.
unpacked_libraries() {
  local dir libraries=
  for dir in "$1"/usr/lib/*-linux-gnu* "$1"/lib/*-linux-gnu*; do
    if [ -d "$dir" ]; then libraries=${libraries:+$libraries:}$dir; fi
  done
  printf '%s\n' "$libraries"
}

# Prints the libraries that the given programs need and nobody has; nothing when all are there.
missing_libraries() {
  local libraries=$1
  shift
  LD_LIBRARY_PATH=$libraries ldd "$@" 2>/dev/null | awk '/not found/ { print $1 }' | sort -u
}
