#!/usr/bin/env bash
# build.sh [release|dev|tsan]   installs what building needs, brings the star catalogue, builds everything of a preset.
# The program is then build/PRESET/bin/nightglass.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

preset=${1:-release}
case $preset in
  release | dev | tsan) ;;
  *)
    sed -n 2,3p "$0" >&2
    exit 2
    ;;
esac
scripts/install-deps.sh build
scripts/fetch-catalogue.sh || echo "build: going on without the star catalogue; rehearsed stars are all drawn by chance" >&2
scripts/build-page.sh
if ! said=$(cmake --preset "$preset" 2>&1); then
  echo "$said" >&2
  exit 1
fi
cmake --build --preset "$preset"
