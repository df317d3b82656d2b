#!/usr/bin/env bash
# demo.sh [FOLDER]   from nothing to a picture: installs what is missing, builds, makes a workspace, rehearses a small night
# in it, reduces it, finishes the picture, and says how to open the page. FOLDER is made, and must be new or empty; without
# it, the first free of demo-night, demo-night-2 ...
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
printf '\n1. A workspace, with a site and a rig that are invented: change them in its site.toml and rig.toml.\n'
"$nightglass" init "$folder"
printf '\n2. A night is rehearsed: frames as a camera would have written them.\n'
"$nightglass" rehearse --night small --out "$folder/frames/first-night" "${catalogue[@]}"
printf '\n3. Its frames become masters.\n'
"$nightglass" reduce "$folder/frames/first-night" --out "$folder/masters/first-night"
printf '\n4. The masters become a picture.\n'
"$nightglass" finish "$folder"/masters/first-night/*.fits --out "$folder/pictures/first-night.png"
printf '\nAfter the build it took %d s. The picture: %s\n' $((SECONDS - begun)) \
  "$(realpath "$folder/pictures/first-night.png")"
printf 'The page: run\n  %s serve --workspace %s\nand open the address that it prints in a browser.\n' "$nightglass" "$folder"
