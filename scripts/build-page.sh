#!/usr/bin/env bash
# build-page.sh   builds the page into web/dist, from where the program embeds it. Does nothing, quickly, when it is built
# already; says so, and goes on, where npm is not there or does not reach its packages.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../web"

if ! command -v npm >/dev/null; then
  echo "build-page: npm is not there: the program goes without its page" >&2
  exit 0
fi
if [[ dist/index.html -nt package.json && -z $(find src public index.html vite.config.ts package-lock.json -newer dist/index.html -print -quit) ]]; then
  exit 0
fi
if [[ ! node_modules/.package-lock.json -nt package-lock.json ]]; then
  if ! said=$(npm ci --no-audit --no-fund 2>&1); then
    echo "build-page: npm could not bring its packages; the program goes without its page: ${said##*$'\n'}" >&2
    exit 0
  fi
fi
npm run --silent build >&2
