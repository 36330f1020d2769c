# shellcheck shell=bash
# A Python for the checks that compare us with other people's libraries: the machine's own if it can do it, else
# Debian's unpacked beside the database's programs. Nothing is installed outside the given folder.
# Needs say.sh, process.sh, debian.sh, and home_dir of postgres.sh.
# Sets: python (a program to call with a script or -m MODULE).
# shellcheck disable=SC2154 # home_dir

python=''

# True when the given command line is a Python of at least 3.9 with TLS and pip.
usable_python() {
  "$@" -c 'import sys, ssl, pip; sys.exit(sys.version_info < (3, 9))' >/dev/null 2>&1
}

# Leaves in `interpreter` the command line of a Python that can install packages.
find_python() {
  local unpacked=$home_dir/python wheel program
  if usable_python env -u PYTHONHOME -u PYTHONPATH python3; then
    # Resolved once: a version manager's stand-in would choose anew in each folder.
    interpreter=(env -u PYTHONHOME -u PYTHONPATH "$(env -u PYTHONHOME -u PYTHONPATH python3 -c 'import sys; print(sys.executable)')")
    return
  fi
  if find_unpacked_python; then return; fi
  say "No Python with pip is installed; unpacking Debian's into $unpacked (nothing is installed)."
  if ! unpack_debian "$unpacked" '^(lib.*|python3(\.[0-9]+)?(-minimal)?|python3-pip-whl|media-types)$' \
    '^(lib.*-perl|libperl.*)$' python3 python3-pip-whl || ! find_unpacked_python; then
    fail "Python 3.9 or newer with pip is needed for the checks against reference libraries." \
      "Have it installed, as root:  apt-get install python3 python3-pip"
  fi
}

find_unpacked_python() {
  # Where only pip was missing, the folder holds only pip.
  program=$unpacked/usr/bin/python3
  [ -x "$program" ] || program=$(command -v python3) || return 1
  for wheel in "$unpacked"/usr/share/python-wheels/pip-*.whl /usr/share/python-wheels/pip-*.whl; do
    [ -e "$wheel" ] || continue
    interpreter=(env -u PYTHONHOME "LD_LIBRARY_PATH=$(unpacked_libraries "$unpacked")" "PYTHONPATH=$wheel" "$program")
    if usable_python "${interpreter[@]}"; then return; fi
  done
  return 1
}

# python_env FOLDER REQUIREMENTS: fills FOLDER with the pinned packages once, and again when the pins change.
python_env() {
  local folder=$1 requirements=$2 interpreter=() stamp
  find_python
  stamp="$(cksum <"$requirements") ${interpreter[*]}"
  python=$folder/python
  if [ "$(cat "$folder/stamp" 2>/dev/null)" = "$stamp" ]; then return; fi
  rm -rf "$folder"
  mkdir -p "$folder"
  attend "${interpreter[@]}" -m pip install --quiet --disable-pip-version-check --no-warn-script-location \
    --root-user-action ignore --prefer-binary --target "$folder/packages" --requirement "$requirements" ||
    fail "The packages of $requirements cannot be installed; pip's words are above." \
      "They come from the registry of Python packages; check the network and run this again." \
      "'No space left': make room, or CARGO_TARGET_DIR=/another/disk $0"
  {
    printf '#!/bin/sh\nexec'
    printf " '%s'" "${interpreter[@]:0:${#interpreter[@]}-1}" "PYTHONPATH=$folder/packages" "${interpreter[-1]}" -s
    # shellcheck disable=SC2016 # for the script that is written here
    printf ' "$@"\n'
  } >"$python"
  chmod +x "$python"
  printf '%s\n' "$stamp" >"$folder/stamp"
}
