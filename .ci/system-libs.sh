#!/bin/sh
# Install the Debian libraries that are missing: "core" (import cv2) or "gui" (napari window under Xvfb).
set -eu
core=""
gui="libgl1 libglib2.0-0 libegl1 libdbus-1-3 libfontconfig1 libxkbcommon-x11-0 libxcb-cursor0 libxcb-icccm4 libxcb-keysyms1 libxcb-shape0 xvfb"
want=$core
[ "${1:-core}" = gui ] && want="$core $gui"
command -v dpkg-query >/dev/null 2>&1 || { echo "not Debian/Ubuntu: install by hand: $want" >&2; exit 0; }
missing=""
for p in $want; do
    dpkg-query -W -f='${Status}' "$p" 2>/dev/null | grep -q "ok installed" || missing="$missing $p"
done
[ -z "$missing" ] && exit 0
SUDO=""
[ "$(id -u)" = 0 ] || SUDO=sudo
echo "installing:$missing"
$SUDO apt-get update -qq
DEBIAN_FRONTEND=noninteractive $SUDO apt-get install -y -qq --no-install-recommends $missing >/dev/null
