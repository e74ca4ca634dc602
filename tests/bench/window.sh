#!/bin/sh
# What the window costs on a software renderer (Mesa's llvmpipe under Xvfb) at 1280 by 800: a Markdown table, one row a
# view or state. It takes about five minutes.
#
#     sh tests/bench/window.sh [PROGRAM]      target/release/trimwatch unless told otherwise, built if need be
#
# Everything is in percent of one core, by the processor time that the kernel has counted (user and system), over ten
# seconds on the virtual deck finch-as-found; other programs that run meanwhile change little.
#
#   frames    drawn a second, counted by the graphics library
#   window    the thread that lays out, cuts into triangles and hands over
#   pixels    the threads of the software renderer, which a graphics card would replace
#   drawing   window and pixels together; the aim is at most 60 at 30 frames a second, and nothing where nothing is seen
#   meters    capture, meters and the search for lines, in the same process
#   apart     the whole process less what `trimwatch watch` takes meanwhile for the same source: the same as drawing,
#             asked otherwise; too low by what `watch` itself takes to write its lines, some 2 %
#
# Needs: xvfb libgl1-mesa-dri libegl1 libxkbcommon-x11-0 xdotool imagemagick x11-utils.
cd "$(dirname "$0")/../.." || exit 1
set -eu
seconds=10
deck=finch-as-found
program=${1:-}
if [ -z "$program" ]; then
    cargo build --release --locked --quiet
    program=target/release/trimwatch
fi

scratch=$(mktemp -d)
. tests/screen/desktop.sh
cover_pid=
watch_pid=
tidy() {
    for pid in $cover_pid $watch_pid; do kill "$pid" 2>/dev/null || true; done
    end_window
    rm -rf "$scratch"
}
trap tidy EXIT
trap 'exit 130' INT TERM
need_tools convert display xprop

# The counter of frames: a figure every half second, in a file; nothing of it is shown.
mkdir "$scratch/frames"
export GALLIUM_HUD=fps GALLIUM_HUD_VISIBLE=false GALLIUM_HUD_DUMP_DIR="$scratch/frames"

# process_ticks PID: the processor time of a whole process so far; nothing once it has ended.
process_ticks() {
    sed 's/^[0-9]* (.*) //' "/proc/$1/stat" 2>/dev/null | awk '{ sum = $12 + $13 } END { print sum + 0 }'
}

# row NAME THREADS: measures the window as it stands.
row() {
    : >"$scratch/frames/fps"
    busy_ticks >"$scratch/before"
    watch_ticks=$(process_ticks "$watch_pid")
    sleep $seconds
    busy_ticks >"$scratch/after"
    watch_ticks=$(($(process_ticks "$watch_pid") - watch_ticks))
    # The counter is told only when a frame is drawn, so that it says nothing where there are none.
    frames=$(awk '{ sum += $1 } END { printf "%.0f", NR ? sum / NR : 0 }' "$scratch/frames/fps")
    awk -F'|' -v per_core="$(($(getconf CLK_TCK) * seconds))" -v name="$1" -v threads="$2" -v frames="$frames" \
        -v watch="$watch_ticks" '
        NR == FNR { before[$1] += $2; next }
        { after[$1] += $2 }
        END {
            for (thread in after) {
                percent = (after[thread] - before[thread]) * 100 / per_core
                all += percent
                if (thread == "meters" || thread == "analyst" || thread == "paced source") meters += percent
                else if (thread ~ /^llvmpipe/) pixels += percent
                else window += percent
            }
            printf "| %s | %s | %s | %.1f | %.1f | %.1f | %.1f | %.1f |\n", name, threads, frames, window, pixels,
                window + pixels, meters, all - watch * 100 / per_core
        }' "$scratch/before" "$scratch/after"
}

# open SOURCE...: the window on a source, and the same source without a window.
open() {
    "$program" watch "$@" --tape speed-3150 --deck finch-2h --format jsonl >/dev/null 2>&1 &
    watch_pid=$!
    start_window 1280 800 1 "$program" "$@" --tape speed-3150 --deck finch-2h
}

close() {
    kill $watch_pid 2>/dev/null || true
    wait $watch_pid 2>/dev/null || true
    watch_pid=
    end_window
}

minimise() {
    # What a window manager does; there is none on this display.
    xprop -id "$window" -f _NET_WM_STATE 32a -set _NET_WM_STATE _NET_WM_STATE_HIDDEN
    xdotool windowunmap "$window"
    sleep 2
}

cover() {
    convert -size 1280x800 xc:gray "$scratch/cover.png"
    display -immutable -geometry 1280x800+0+0 -title cover "$scratch/cover.png" &
    cover_pid=$!
    xdotool search --sync --name '^cover$' windowmove 0 0 windowraise
    sleep 2
}

uncover() {
    kill $cover_pid
    wait $cover_pid 2>/dev/null || true
    cover_pid=
    sleep 2
}

echo '| view or state | renderer threads | frames | window | pixels | drawing | meters | apart |'
echo '|---|---|---|---|---|---|---|---|'
for threads in all 1; do
    if [ $threads = all ]; then unset LP_NUM_THREADS; else export LP_NUM_THREADS=$threads; fi
    open --virtual-deck $deck
    # The trails reach over half a minute.
    sleep 32
    press s
    for view in '1 speed' '2 flutter' '3 azimuth' '4 level' '5 mechanism'; do
        press "${view%% *}"
        row "${view#* }" $threads
    done
    press s
    row 'mechanism, screwdrivers at its side' $threads
    press h
    row 'held' $threads
    press h
    cover
    row 'covered' $threads
    uncover
    row 'uncovered' $threads
    minimise
    row 'minimised' $threads
    close
done
"$program" virtual $deck --out "$scratch/take.wav" --seconds 8 >/dev/null
open --recording "$scratch/take.wav"
sleep 12
row 'recording that is over' 1
close
