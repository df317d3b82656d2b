#!/usr/bin/env bash
# demo.sh [FOLDER]   from nothing to a picture: installs what is missing, builds, rehearses a small night, reduces it and
# finishes the picture. FOLDER (default: demo-night) is made anew; one that this script did not make is left alone.
set -euo pipefail
here=$PWD
cd "$(dirname "${BASH_SOURCE[0]}")/.."

folder=demo-night
if (($# > 0)); then folder=$(realpath -m --relative-to=. "$here/$1"); fi
mark=$folder/made-by-the-demo
if [[ -e $folder && ! -e $mark && -n $(ls -A "$folder" 2>/dev/null) ]]; then
  echo "demo: $folder holds something else; name another folder: scripts/demo.sh FOLDER" >&2
  exit 1
fi

scripts/build.sh release
nightglass=build/release/bin/nightglass
rm -rf "$folder"
mkdir -p "$folder"
touch "$mark"

begun=$SECONDS
printf '\n1. A night is rehearsed: frames as a camera would have written them.\n'
"$nightglass" rehearse --night small --out "$folder/night"
printf '\n2. Its frames become masters.\n'
"$nightglass" reduce "$folder/night" --out "$folder/masters"
printf '\n3. The masters become a picture.\n'
"$nightglass" finish "$folder"/masters/*.fits --out "$folder/picture.png"
printf '\nAfter the build it took %d s. The picture: %s\n' $((SECONDS - begun)) "$(realpath "$folder/picture.png")"
