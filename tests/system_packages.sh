#!/usr/bin/env bash
# What the tests need of the system beside Python: a browser with a font, and OpenFst's programs. `make test` runs this first.
# What is missing is installed as root, or through sudo where that asks no question; otherwise the line to type is printed and nothing is tested.
# OpenFst comes from Debian because what PyPI has of it will not do: kaldifst sums no paths and rounds to 32 bits, pynini is 165 MB.
set -euo pipefail

missing=()
command -v chromium >/dev/null || missing+=(chromium)  # the web pages are tested in a browser
[ -n "$(find /usr/share/fonts /usr/local/share/fonts ~/.fonts ~/.local/share/fonts -name '*.ttf' -print -quit 2>/dev/null)" ] || missing+=(fonts-dejavu-core)
command -v fstcompile >/dev/null || missing+=(libfst-tools)  # weights are compared with OpenFst's
if [ "${#missing[@]}" -eq 0 ]; then exit 0; fi

if [ "$(id -u)" -eq 0 ]; then
    as_root=(env)
elif sudo -n true 2>/dev/null; then
    as_root=(sudo -n env)
else
    echo "The tests need ${missing[*]}. Type this and try again:" >&2
    echo "    sudo apt-get update && sudo apt-get install -y --no-install-recommends ${missing[*]}" >&2
    exit 1
fi
if ! command -v apt-get >/dev/null; then
    echo "The tests need what Debian calls ${missing[*]}. There is no apt-get here: install them by your system's means and try again." >&2
    exit 1
fi
"${as_root[@]}" apt-get update -qq
"${as_root[@]}" DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${missing[@]}"
