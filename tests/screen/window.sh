#!/bin/sh
# Opens the real window on a virtual display, goes through its views by keyboard and takes pictures to look at.
#
#   sh tests/screen/window.sh FOLDER [COMMAND ...]
#
# COMMAND starts the window; without one it is target/debug/trimwatch on the virtual deck of the demonstration.
# Checked: the window comes up, every picture shows something, every view differs from the others, light differs from
# dark, the window draws while the input runs, and it lives to the end. Needs: xvfb libgl1-mesa-dri libegl1
# libxkbcommon-x11-0 xdotool imagemagick.
set -eu

folder=${1:?"usage: window.sh FOLDER [COMMAND ...]"}
shift
[ $# -gt 0 ] || set -- target/debug/trimwatch --virtual-deck demo-data/finch-as-found.toml
mkdir -p "$folder"

for tool in Xvfb xdotool import convert; do
    command -v "$tool" >/dev/null || { echo "window.sh: $tool is missing; install xvfb xdotool imagemagick" >&2; exit 2; }
done

scratch=$(mktemp -d)
display_pid=
window_pid=
cleanup() {
    [ -z "$window_pid" ] || kill "$window_pid" 2>/dev/null || true
    [ -z "$display_pid" ] || kill "$display_pid" 2>/dev/null || true
    rm -rf "$scratch"
}
trap cleanup EXIT
trap 'exit 130' INT TERM

fail() {
    echo "window.sh: $1" >&2
    [ ! -s "$scratch/log" ] || sed 's/^/  /' "$scratch/log" >&2
    exit 1
}

# start_window WIDTH HEIGHT SCALE COMMAND...: an empty display of that size in pixels, and the window filling it.
start_window() {
    size=$1x$2
    scale=$3
    shift 3
    : >"$scratch/display"
    Xvfb -displayfd 3 -screen 0 "${size}x24" 3>"$scratch/display" >/dev/null 2>&1 &
    display_pid=$!
    for _ in $(seq 50); do
        [ -s "$scratch/display" ] && break
        sleep 0.1
    done
    [ -s "$scratch/display" ] || fail "the virtual display did not start"
    DISPLAY=:$(cat "$scratch/display")
    export DISPLAY
    for _ in $(seq 50); do
        xdotool getdisplaygeometry >/dev/null 2>&1 && break
        sleep 0.1
    done
    mkdir -p -m 700 "$scratch/run"
    XDG_RUNTIME_DIR=$scratch/run
    export XDG_RUNTIME_DIR
    WINIT_X11_SCALE_FACTOR=$scale "$@" >"$scratch/log" 2>&1 &
    window_pid=$!
    window=
    for _ in $(seq 150); do
        kill -0 "$window_pid" 2>/dev/null || fail "the window ended at once"
        window=$(xdotool search --onlyvisible --name trimwatch 2>/dev/null | head -n 1) || true
        [ -n "$window" ] && break
        sleep 0.1
    done
    [ -n "$window" ] || fail "no window came up"
    xdotool windowmove "$window" 0 0
    xdotool windowsize "$window" "${size%x*}" "${size#*x}"
    xdotool windowfocus "$window"
    # The meters need their settling time before there is something to see.
    sleep 4
}

end_window() {
    kill -0 "$window_pid" 2>/dev/null || fail "the window has died"
    kill "$window_pid" "$display_pid" 2>/dev/null || true
    wait "$window_pid" 2>/dev/null || true
    wait "$display_pid" 2>/dev/null || true
    window_pid=
    display_pid=
}

press() {
    xdotool key "$1"
    sleep 0.7
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
    for view in 1-speed 2-flutter 3-azimuth 4-level; do
        press "${view%%-*}"
        picture "$1-$view"
    done
    differ "$1-1-speed" "$1-2-flutter"
    differ "$1-2-flutter" "$1-3-azimuth"
    differ "$1-3-azimuth" "$1-4-level"
}

start_window 1280 800 1 "$@"
views laptop
press 1
picture laptop-speed-before
sleep 1
picture laptop-speed-after
differ laptop-speed-before laptop-speed-after
for panel in t-tape i-inputs c-cautions question-keys; do
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
before=$(awk '{print $14 + $15}' "/proc/$window_pid/stat")
sleep 5
after=$(awk '{print $14 + $15}' "/proc/$window_pid/stat")
echo "window.sh: the whole program took $(((after - before) * 100 / 5 / $(getconf CLK_TCK))) % of one core at 1280x800"
end_window

start_window 1920 1080 1 "$@"
views large
end_window

start_window 2560 1600 2 "$@"
views dense
end_window

start_window 800 560 1 "$@"
views small
end_window

echo "window.sh: pictures are in $folder; look at them"
