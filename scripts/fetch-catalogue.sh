#!/usr/bin/env bash
# Brings the star catalogue into data/npm (ignored by git): the npm package d3-celestial 0.7.35 through npm as it is set
# up here, checked against the hash recorded below, and of it the one file that we use. Does nothing when it is there.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

package=d3-celestial
version=0.7.35
archive_sha256=490796718c201e15f38c324bda5458fc4de22519313093bf261b628185eaae81
folder=data/npm
stars=$folder/stars.14.json

if [[ -s $stars ]]; then
  exit 0
fi
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
tar -xzf "$work/$package-$version.tgz" -C "$work" package/data/stars.14.json package/LICENSE
mv "$work/package/LICENSE" "$folder/LICENSE.$package"
mv "$work/package/data/stars.14.json" "$stars"
echo "fetch-catalogue: $stars"
