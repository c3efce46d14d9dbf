# Sourced by deploy/try and tests/run: names of the Debian bookworm packages, and how to install what is missing.

build_packages="g++ cmake ninja-build ccache mold pkg-config libboost1.81-dev libmodbus-dev libpaho-mqttpp-dev
  libpaho-mqtt-dev libspdlog-dev libfmt-dev libyaml-cpp-dev doctest-dev libsqlite3-dev libcurl4-openssl-dev libssl-dev libcli11-dev
  nlohmann-json3-dev libsystemd-dev libhowardhinnant-date-dev libeigen3-dev tzdata ca-certificates"

test_packages="clang-format-14 mosquitto mosquitto-clients mbpoll python3 python3-pymodbus python3-serial
  python3-serial-asyncio python3-aiosmtpd postfix openssl systemd binutils curl"

install_missing() {
  local missing="" package
  for package in "$@"; do
    dpkg-query -W -f '${db:Status-Status}' "$package" 2>/dev/null | grep -qx installed || missing="$missing $package"
  done
  [ -n "$missing" ] || return 0
  local as_root=""
  if [ "$(id -u)" -ne 0 ]; then
    command -v sudo >/dev/null || { echo "Please install as root:$missing" >&2; return 1; }
    as_root=sudo
  fi
  echo "Installing:$missing" >&2
  $as_root apt-get update -q >&2
  # shellcheck disable=SC2086
  $as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -q --no-install-recommends $missing >&2
}
