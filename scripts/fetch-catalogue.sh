#!/usr/bin/env bash
# Brings stars and deep-sky objects into data/npm (ignored by git): the npm package d3-celestial 0.7.35 through npm as it
# is set up here, checked against the hash recorded below, and of it the five files that we use. Does nothing when they are
# there.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

package=d3-celestial
version=0.7.35
archive_sha256=490796718c201e15f38c324bda5458fc4de22519313093bf261b628185eaae81
folder=data/npm
files=(stars.14.json starnames.json dsos.20.json messier.json dsonames.json)

missing=0
for file in "${files[@]}"; do
  [[ -s $folder/$file ]] || missing=1
done
((missing)) || exit 0
if ! command -v npm >/dev/null; then
  echo "fetch-catalogue: npm is not installed, so there is no star catalogue (apt-get install npm)" >&2
  exit 1
fi
mkdir -p "$folder"
work=$(mktemp -d "$folder/fetch.XXXXXX")
trap 'rm -rf "$work"' EXIT
if ! npm pack --silent --pack-destination "$work" "$package@$version" >/dev/null; then
  echo "fetch-catalogue: npm could not bring $package $version, so there is no star catalogue" >&2
  exit 1
fi
if ! echo "$archive_sha256  $work/$package-$version.tgz" | sha256sum --check --quiet; then
  echo "fetch-catalogue: $package $version is not the archive that we know; nothing was kept" >&2
  exit 1
fi
tar -xzf "$work/$package-$version.tgz" -C "$work" "${files[@]/#/package/data/}" package/LICENSE
mv "$work/package/LICENSE" "$folder/LICENSE.$package"
for file in "${files[@]}"; do
  mv "$work/package/data/$file" "$folder/$file"
done
echo "fetch-catalogue: ${files[*]} in $folder"
