# shellcheck shell=bash
# The Rust toolchain as we find it. Needs say.sh, and home_dir of postgres.sh.
# shellcheck disable=SC2154 # home_dir

need_cargo() {
  have cargo || fail "cargo is not installed." \
    "Install the Rust toolchain, $(sed -nE 's/^rust-version = "(.*)"/\1/p' Cargo.toml) or newer, and open a new shell."
  have cc || fail "There is no C compiler to link with." "Have it installed, as root:  apt-get install gcc libc6-dev"
}

# A toolchain that was installed for everybody keeps its downloads where an ordinary user cannot write, and not
# everything in them can be read by all. The crates then go to a folder of our own.
choose_cargo_home() {
  local shared=${CARGO_HOME:-$HOME/.cargo}
  if [ ! -e "$shared" ] || { [ -w "$shared" ] && { [ ! -e "$shared/registry" ] || [ -w "$shared/registry" ]; }; }; then
    return
  fi
  export CARGO_HOME=$home_dir/cargo
  mkdir -p "$CARGO_HOME"
  # Where crates come from is still the machine's decision.
  local config
  for config in config.toml config; do
    if [ -r "$shared/$config" ]; then ln -sfn "$shared/$config" "$CARGO_HOME/$config"; fi
  done
  say "$shared cannot be written by $(id -un), so the crates are kept in $CARGO_HOME."
}
