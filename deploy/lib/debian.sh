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

# Where this machine's own packages come from, for another release of the same archive. Prints a line for apt's sources.
source_of_release() {
  local release=$1 codename archive keys=/usr/share/keyrings/debian-archive-keyring.gpg
  codename=$(sed -nE 's/^VERSION_CODENAME=//p' /etc/os-release)
  archive=$(apt-get indextargets --format '$(RELEASE) $(REPO_URI)' 'Created-By: Packages' |
    awk -v codename="$codename" '$1 == codename { print $2; exit }')
  [ -n "$archive" ] || return 1
  [ -e "$keys" ] && keys="[signed-by=$keys]" || keys=
  printf 'deb %s %s %s main\n' "$keys" "$archive" "$release"
}

# unpack_debian FOLDER KEEP DROP PACKAGE...
# Downloads the packages, and of what they depend on and this system lacks those whose names match the extended
# regular expression KEEP and not DROP, checks them against the signed lists (apt does) and unpacks them into
# FOLDER, which exists afterwards wholly or not at all. Returns 1 when that cannot be; says why on the way.
# With `from_release` set, the packages are of that release, with everything that they depend on, as if nothing were
# installed: their programs are run by start_of_unpacked, since this system's own libraries may be older.
unpack_debian() {
  local folder=$1 keep=$2 drop=$3
  shift 3
  local part="$folder.part" apt plan packages deb of_release=()
  if ! have apt-get || ! have dpkg-deb; then
    say "This is not a Debian system (no apt-get), so nothing can be unpacked here."
    return 1
  fi
  rm -rf "$part"
  apt="$part/apt"
  mkdir -p "$apt/lists/partial" "$apt/cache/archives/partial" "$apt/debs" "$part/root" || return 1
  if [ -n "${from_release:-}" ]; then
    if ! source_of_release "$from_release" >"$apt/sources.list"; then
      say "Where this machine's packages come from cannot be told."
      return 1
    fi
    of_release=(-o Dir::Etc::SourceList="$apt/sources.list" -o Dir::Etc::SourceParts=- -o Dir::State::Status=/dev/null)
  fi
  if ! apt_private "$apt" apt-get "${of_release[@]}" -o APT::Update::Error-Mode=any update >"$apt/log" 2>&1; then
    say "Debian's package lists cannot be fetched:" "$(tail -n 3 "$apt/log")"
    return 1
  fi
  # A simulated installation is the package manager's own answer to "what is missing here".
  if ! plan=$(apt_private "$apt" apt-get "${of_release[@]}" --simulate --no-install-recommends install "$@" 2>"$apt/log"); then
    say "Debian's package manager cannot plan for $*:" "$(tail -n 3 "$apt/log")"
    return 1
  fi
  packages=$(awk '$1 == "Inst" { print $2 }' <<<"$plan" | grep -E -e "$keep" | grep -vE -e "$drop") || {
    say "There is nothing to unpack for $*."
    return 1
  }
  # shellcheck disable=SC2086 # one word for each package
  if ! (cd "$apt/debs" && apt_private "$apt" apt-get "${of_release[@]}" download $packages >"$apt/log" 2>&1); then
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

# Leaves in `start` the command line that runs a program of a folder with another release's packages: by the loader and
# with the libraries that lie beside it.
start_of_unpacked() {
  local folder=$1 program=$2 loader
  for loader in "$folder"/usr/lib*/ld-linux*.so.* "$folder"/lib*/ld-linux*.so.*; do
    [ -e "$loader" ] || continue
    start=("$loader" --library-path "$(unpacked_libraries "$folder")" "$folder/$program")
    return
  done
  return 1
}

# Prints the libraries that the given programs need and nobody has; nothing when all are there.
missing_libraries() {
  local libraries=$1
  shift
  LD_LIBRARY_PATH=$libraries ldd "$@" 2>/dev/null | awk '/not found/ { print $1 }' | sort -u
}
