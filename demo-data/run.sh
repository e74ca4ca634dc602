#!/bin/sh
# Builds trimwatch and opens its window on the virtual deck finch-as-found. Without a display it prints the live
# readings as text for 20 s instead. Missing system packages are installed (as root or through sudo; elsewhere it
# prints what to install).
cd "$(dirname "$0")/.." || exit 1
. tests/machine.sh

DECK=finch-as-found
MECHANISM=finch-2h
display=${DISPLAY:-}${WAYLAND_DISPLAY:-}

# Only the build stops here: a library that is named otherwise on this system may still be there.
need_packages 'the build' gcc libc6-dev libasound2-dev pkg-config
if [ -n "$display" ]; then
    need_packages 'the window' libgl1-mesa-dri libegl1 libxkbcommon0 libxkbcommon-x11-0 libwayland-client0
fi
need_rust || exit 1
say 'Building; the first time it takes some minutes.'
cargo build --release --locked || exit 1

if [ -n "$display" ]; then
    exec target/release/trimwatch --virtual-deck "$DECK" --deck "$MECHANISM"
fi
say 'There is no display (neither DISPLAY nor WAYLAND_DISPLAY is set), so here are the live readings of the virtual'
say "deck as text for 20 s. With a display this opens the window: trimwatch --virtual-deck $DECK"
exec target/release/trimwatch watch --virtual-deck "$DECK" --deck "$MECHANISM" --seconds 20
