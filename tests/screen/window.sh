#!/bin/sh
# Opens the real window on a virtual display, goes through its views by keyboard and takes pictures to look at.
#
#   sh tests/screen/window.sh FOLDER [COMMAND ...]
#   sh tests/screen/window.sh --pictures [COMMAND ...]     only makes the README's pictures in demo-data/pictures anew
#
# COMMAND starts the window; without one it is target/debug/trimwatch on the virtual deck of the demonstration.
# Checked: the window comes up, every picture shows something, every view differs from the others, light differs from
# dark, the window draws while the input runs, and it lives to the end. Needs: xvfb libgl1-mesa-dri libegl1
# libxkbcommon-x11-0 xdotool imagemagick.
set -eu

folder=${1:?"usage: window.sh FOLDER|--pictures [COMMAND ...]"}
shift
readme=
if [ "$folder" = --pictures ]; then
    readme=yes
    folder=demo-data/pictures
fi
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
    # Settings of its own, empty: the user's are left alone, and every window starts the same.
    rm -rf "$scratch/config"
    XDG_RUNTIME_DIR=$scratch/run XDG_CONFIG_HOME=$scratch/config
    export XDG_RUNTIME_DIR XDG_CONFIG_HOME
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

# busy_ticks: for every thread of the window, its name and the processor time it has taken so far.
busy_ticks() {
    for stat in /proc/"$window_pid"/task/*/stat; do
        # The name stands in brackets and may hold spaces; user and system time are the 12th and 13th field after it.
        sed -n 's/^[0-9]* (\(.*\)) /\1|/p' "$stat" 2>/dev/null |
            awk -F'|' '{ split($2, field, " "); print $1 "|" field[12] + field[13] }'
    done
}

# measure_load: the share of one core that each thread takes, and that of capture and meters together, which the
# window's own drawing (here by a software renderer) is not part of.
measure_load() {
    busy_ticks >"$scratch/before"
    sleep 10
    busy_ticks >"$scratch/after"
    awk -F'|' -v ticks="$(getconf CLK_TCK)" '
        NR == FNR { before[$1] += $2; next }
        { after[$1] += $2 }
        END {
            for (name in after) {
                percent = (after[name] - before[name]) * 100 / ticks / 10
                all += percent
                if (name == "meters" || name == "paced source") work += percent
                if (percent >= 0.1) printf "window.sh: thread %-16s %5.1f %% of one core\n", name, percent
            }
            printf "window.sh: capture and meters together %.1f %%, the whole program %.1f %% of one core at 1280x800\n",
                work, all
        }' "$scratch/before" "$scratch/after"
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

# small_picture NAME: a picture of few colours and no bystanders' data, for the README.
small_picture() {
    picture "$1"
    convert "$folder/$1.png" -strip -dither None -colors 64 -define png:compression-level=9 "$scratch/small.png"
    mv "$scratch/small.png" "$folder/$1.png"
    [ "$(wc -c <"$folder/$1.png")" -lt 150000 ] || fail "$1.png has more than 150 kB"
}

if [ -n "$readme" ]; then
    start_window 1280 800 1 "$@" --tape speed-3150
    # Half a minute fills the trails.
    sleep 30
    small_picture speed
    press s
    press 2
    small_picture flutter
    press l
    press 4
    small_picture level
    press s
    press 3
    small_picture azimuth
    end_window
    echo "window.sh: the README's pictures are made anew; look at them"
    exit 0
fi

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
sleep 2
measure_load
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

lines=$(timeout 60 target/debug/trimwatch watch --virtual-deck finch-as-found --format jsonl --seconds 10 | wc -l)
echo "window.sh: $((lines / 10)) readings a second"
[ "$lines" -ge 290 ] || echo "window.sh: fewer than 30 readings a second: is the machine busy?" >&2

echo "window.sh: pictures are in $folder; look at them"
