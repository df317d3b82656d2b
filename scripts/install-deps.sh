#!/usr/bin/env bash
# install-deps.sh [build|test]   installs the Debian packages that are missing: for building (default), or for every test
# and benchmark as well. Does nothing, quickly, when all is there. Needs Debian 12 and root, or sudo.
set -euo pipefail

purpose=${1:-build}
case $purpose in
  build | test) ;;
  *)
    sed -n 2,3p "$0" >&2
    exit 2
    ;;
esac

# A name, or command:name where any package that brings the command will do.
packages=(
  g++ cmake:cmake ninja:ninja-build ccache:ccache mold:mold pkg-config:pkg-config
  libeigen3-dev libnanoflann-dev libfmt-dev nlohmann-json3-dev libtomlplusplus-dev libcli11-dev
  libcfitsio-dev libraw-dev libtiff-dev libpng-dev libjpeg62-turbo-dev liblcms2-dev zlib1g-dev libhwy-dev
  libchealpix-dev libxxhash-dev libsqlitecpp-dev libsqlite3-dev liberfa-dev libhowardhinnant-date-dev libcpp-httplib-dev libqrencode-dev
  libcairo2-dev libpugixml-dev libfftw3-dev
  libgtest-dev libgmock-dev libbenchmark-dev
  npm:npm tar:tar ca-certificates
)
if [[ $purpose != build ]]; then
  packages+=(
    python3 python3-numpy python3-scipy python3-astropy python3-ephem python3-sep python3-astroscrappy python3-opencv
    python3-photutils python3-jsonschema zbar-tools wcslib-dev clang-format:clang-format chromium:chromium sqlite3:sqlite3
  )
fi

if ! command -v dpkg-query >/dev/null || ! command -v apt-get >/dev/null; then
  echo "install-deps: this is not Debian; what must be there: ${packages[*]#*:}" >&2
  exit 0
fi

installed=$(dpkg-query -W -f='${db:Status-Status} ${Package}\n' 2>/dev/null | sed -n 's/^installed //p')
missing=()
for entry in "${packages[@]}"; do
  package=${entry#*:}
  if [[ $entry == *:* ]] && command -v "${entry%%:*}" >/dev/null; then continue; fi
  grep -qx -- "$package" <<<"$installed" || missing+=("$package")
done
((${#missing[@]} == 0)) && exit 0

as_root=()
if ((EUID != 0)); then
  if ! command -v sudo >/dev/null; then
    echo "install-deps: missing ${missing[*]}; run as root: apt-get install ${missing[*]}" >&2
    exit 1
  fi
  as_root=(sudo)
fi
echo "install-deps: installing ${missing[*]}" >&2
apt=("${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get -q -o Acquire::Retries=3 -o Dpkg::Use-Pty=0)
"${apt[@]}" update >/dev/null
"${apt[@]}" install -y --no-install-recommends "${missing[@]}" >/dev/null
