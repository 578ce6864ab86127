# Sourced by demo/run.sh and tests/run.sh: installs what is missing on a Debian-like machine that has Rust.
# shellcheck shell=bash

# What the build needs: command, colon, package that holds it.
BUILD_NEEDS=(cmake:cmake g++:g++ make:make pkg-config:pkg-config sqlite3:sqlite3)

say() { printf '%s\n' "$*"; }

# Package names of the command:package pairs whose command is not there.
missing_packages() {
  local need
  for need in "$@"; do
    command -v "${need%%:*}" >/dev/null 2>&1 || printf '%s\n' "${need##*:}"
  done
  printf '#include <sqlite3.h>\n' | g++ -E -x c++ - >/dev/null 2>&1 || printf '%s\n' libsqlite3-dev
}

# Finds cargo, then installs what the build and the given command:package pairs lack; does nothing where all is there.
install_needs() {
  local packages
  command -v cargo >/dev/null 2>&1 || PATH="$HOME/.cargo/bin:$PATH"
  command -v cargo >/dev/null 2>&1 || { say "Rust is not installed. Install it from https://rustup.rs, then run this again."; return 1; }
  mapfile -t packages < <(missing_packages "${BUILD_NEEDS[@]}" "$@")
  [ "${#packages[@]}" -gt 0 ] || return 0
  install_packages "${packages[@]}"
}

# Installs packages of a Debian-like system, or says what to install and stops.
install_packages() {
  local as_root=()
  command -v apt-get >/dev/null 2>&1 || { say "Please install: $*. Then run this again."; return 1; }
  [ "$(id -u)" -eq 0 ] || as_root=(sudo)
  say "Installing $*."
  "${as_root[@]}" apt-get update -qq
  "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@"
}
