#!/usr/bin/env bash
# demo.sh [FOLDER]   from nothing to a picture: installs what is missing, builds, rehearses a small night, reduces it and
# finishes the picture. FOLDER is made, and must be new or empty; without it, the first free of demo-night, demo-night-2 ...
set -euo pipefail
named=${1:+$(realpath -m -- "$1")}
cd "$(dirname "${BASH_SOURCE[0]}")/.."

folder=${named:-demo-night}
for ((k = 2; ${#named} == 0; ++k)); do
  [[ -e $folder ]] || break
  folder=demo-night-$k
done
if [[ -e $folder && -n $(ls -A "$folder" 2>&1) ]]; then
  echo "demo: $folder holds something; name a new folder: scripts/demo.sh FOLDER" >&2
  exit 1
fi

scripts/build.sh release
nightglass=build/release/bin/nightglass
catalogue=()
if [[ ! -e build/release/share/stars.ngstars ]]; then catalogue=(--catalogue none); fi
mkdir -p "$folder"

begun=$SECONDS
printf '\n1. A night is rehearsed: frames as a camera would have written them.\n'
"$nightglass" rehearse --night small --out "$folder/night" "${catalogue[@]}"
printf '\n2. Its frames become masters.\n'
"$nightglass" reduce "$folder/night" --out "$folder/masters"
printf '\n3. The masters become a picture.\n'
"$nightglass" finish "$folder"/masters/*.fits --out "$folder/picture.png"
printf '\nAfter the build it took %d s. The picture: %s\n' $((SECONDS - begun)) "$(realpath "$folder/picture.png")"
