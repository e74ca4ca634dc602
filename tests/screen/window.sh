#!/bin/sh
# Opens the real window on a virtual display, goes through its views by keyboard and takes pictures to look at.
#
#   sh tests/screen/window.sh FOLDER [COMMAND ...]
#   sh tests/screen/window.sh --pictures [COMMAND ...]     only makes the README's pictures in demo-data/pictures anew
#
# COMMAND starts the window; without one it is target/debug/trimwatch on the virtual deck of the demonstration.
# Checked: the window comes up, every picture shows something, every view differs from the others, light differs from
# dark, the window draws while the input runs, and it lives to the end. Needs: xvfb libgl1-mesa-dri libegl1
# libxkbcommon-x11-0 xdotool imagemagick. What the window costs: tests/bench/window.sh.
set -eu

folder=${1:?"usage: window.sh FOLDER|--pictures [COMMAND ...]"}
shift
readme=
if [ "$folder" = --pictures ]; then
    readme=yes
    folder=demo-data/pictures
fi
[ $# -gt 0 ] || set -- target/debug/trimwatch --virtual-deck demo-data/finch-as-found.toml --deck finch-2h
mkdir -p "$folder"

scratch=$(mktemp -d)
. tests/screen/desktop.sh
trap 'end_window; rm -rf "$scratch"' EXIT
trap 'exit 130' INT TERM
need_tools import convert

# look_at WIDTH HEIGHT SCALE COMMAND...: the window, once its meters have something to show.
look_at() {
    start_window "$@"
    sleep 4
}

leave() {
    kill -0 "$window_pid" 2>/dev/null || fail "the window has died"
    end_window
}

picture() {
    import -window root "$folder/$1.png"
    colours=$(convert "$folder/$1.png" -format %k info:)
    [ "$colours" -gt 20 ] || fail "$1.png is empty ($colours colours)"
}

# differ A B: the two pictures are not the same.
differ() {
    pixels=$(compare -metric AE "$folder/$1.png" "$folder/$2.png" null: 2>&1 | sed 's/[ (].*//') || true
    [ "${pixels%%.*}" != 0 ] || fail "$1.png and $2.png are the same"
}

views() {
    for view in 1-speed 2-flutter 3-azimuth 4-level 5-mechanism; do
        press "${view%%-*}"
        picture "$1-$view"
    done
    differ "$1-1-speed" "$1-2-flutter"
    differ "$1-2-flutter" "$1-3-azimuth"
    differ "$1-3-azimuth" "$1-4-level"
    differ "$1-4-level" "$1-5-mechanism"
}

# small_picture NAME: a picture of few colours and no bystanders' data, for the README.
small_picture() {
    picture "$1"
    convert "$folder/$1.png" -strip -dither None -colors 64 -define png:compression-level=9 "$scratch/small.png"
    mv "$scratch/small.png" "$folder/$1.png"
    [ "$(wc -c <"$folder/$1.png")" -lt 150000 ] || fail "$1.png has more than 150 kB"
}

if [ -n "$readme" ]; then
    look_at 1280 800 1 "$@" --tape speed-3150
    # Half a minute fills the trails.
    sleep 30
    small_picture speed
    press 5
    small_picture mechanism
    press s
    press 2
    small_picture flutter
    press l
    press 4
    small_picture level
    press s
    press 3
    small_picture azimuth
    leave
    echo "window.sh: the README's pictures are made anew; look at them"
    exit 0
fi

look_at 1280 800 1 "$@"
views laptop
press 1
picture laptop-speed-before
sleep 1
picture laptop-speed-after
differ laptop-speed-before laptop-speed-after
for panel in t-tape m-mechanism i-inputs c-cautions question-keys; do
    press "${panel%%-*}"
    picture "laptop-panel-${panel#*-}"
    press Escape
    press Escape
done
press space
press h
picture laptop-held
press h
press l
picture laptop-other-theme
differ laptop-held laptop-other-theme
leave

look_at 1920 1080 1 "$@"
views large
leave

look_at 2560 1600 2 "$@"
views dense
leave

look_at 800 560 1 "$@"
views small
leave

lines=$(timeout 60 target/debug/trimwatch watch --virtual-deck finch-as-found --format jsonl --seconds 10 | wc -l)
echo "window.sh: $((lines / 10)) readings a second"
[ "$lines" -ge 290 ] || echo "window.sh: fewer than 30 readings a second: is the machine busy?" >&2

echo "window.sh: pictures are in $folder; look at them"
