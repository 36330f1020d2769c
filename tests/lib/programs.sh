# shellcheck shell=bash
# Small programs that tests call: the machine's own, else Debian's, unpacked beside the database's programs.
# Needs say.sh, debian.sh, and home_dir of postgres.sh.
# shellcheck disable=SC2154 # home_dir

# on_path PACKAGE KEEP PROGRAM...: puts the programs of a package on the PATH. KEEP names, as an extended regular expression,
# the packages to unpack.
on_path() {
  local package=$1 keep=$2 unpacked=$home_dir/$1 program missing=no
  shift 2
  for program in "$@"; do have "$program" || missing=yes; done
  [ "$missing" = yes ] || return 0
  exec 8>"$home_dir/unpack.lock"
  flock 8
  if [ ! -e "$unpacked/start" ]; then
    say "$package is not installed; unpacking Debian's into $unpacked (nothing is installed)."
    unpack_debian "$unpacked" "$keep" '-dev$' "$package" ||
      fail "$package is needed for the tests and cannot be unpacked here." \
        "Have it installed, as root:  apt-get install $package"
    mkdir "$unpacked/start.part"
    for program in "$@"; do
      # shellcheck disable=SC2016 # for the script that is written here
      printf '#!/bin/sh\nLD_LIBRARY_PATH=%q exec %q "$@"\n' "$(unpacked_libraries "$unpacked")" \
        "$unpacked/usr/bin/$program" >"$unpacked/start.part/$program"
      chmod +x "$unpacked/start.part/$program"
    done
    mv "$unpacked/start.part" "$unpacked/start"
  fi
  exec 8>&-
  PATH=$unpacked/start:$PATH
}

# jq, which the README's walk is read with, and what printed documents are read back with.
find_programs() {
  on_path jq '^(jq|libjq.*|libonig.*)$' jq
  on_path poppler-utils '^(poppler-utils|lib.*)$' pdftotext pdfinfo pdftoppm
}
