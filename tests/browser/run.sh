#!/usr/bin/env bash
# The page in a real Chromium.
#
#   bash tests/browser/run.sh PATH_TO_KEYASSAY [FOLDER]         the checks; pictures of the pages go into FOLDER
#   bash tests/browser/run.sh PATH_TO_KEYASSAY --card FILE.png  the picture of a card in the README
#
# Needs node, npm and Debian's chromium (or CHROMIUM=PATH). Packages go into a temporary folder that is removed at the
# end, or into KEYASSAY_BROWSER_CACHE where that is set, to be used again. KEYASSAY_BROWSER_ONLY=hostile,large runs some
# sections alone.
set -eu
here=$(cd "$(dirname "$0")" && pwd)
program=$(realpath "${1:?path to keyassay}")
script=check.mjs
picture=${2:-}
if [ "$picture" = --card ]; then
    script=card.mjs
    picture=$(realpath "${3:?file for the picture}")
elif [ -n "$picture" ]; then
    mkdir -p "$picture"
    picture=$(realpath "$picture")
fi

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
packages=${KEYASSAY_BROWSER_CACHE:-$work/packages}
mkdir -p "$packages"
cp "$here/package.json" "$packages/"
[ -d "$packages/node_modules/playwright-core" ] ||
    PLAYWRIGHT_SKIP_BROWSER_DOWNLOAD=1 npm install --prefix "$packages" --no-audit --no-fund --no-package-lock --loglevel=error
cp "$here"/*.mjs "$packages/"

cd "$packages"
node "$script" "$program" "$work" "$picture"
