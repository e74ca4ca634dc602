# A virtual display with one window on it, for the scripts that look at the real program. Sourced, not run: POSIX sh,
# from the repository's root. Needs: xvfb libgl1-mesa-dri libegl1 libxkbcommon-x11-0 xdotool.
#
# The script that sources it sets `scratch`, a folder of its own, and calls end_window when it is done or interrupted.

display_pid=
window_pid=

# fail WORDS: ends the script with what went wrong and what the window said.
fail() {
    echo "${0##*/}: $1" >&2
    [ ! -s "$scratch/log" ] || sed 's/^/  /' "$scratch/log" >&2
    exit 1
}

# need_tools NAME...: programs without which nothing can be seen.
need_tools() {
    for tool in Xvfb xdotool "$@"; do
        command -v "$tool" >/dev/null || fail "$tool is missing; install xvfb xdotool imagemagick x11-utils"
    done
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
}

# end_window: both are ended, if they are there.
end_window() {
    for pid in $window_pid $display_pid; do
        kill "$pid" 2>/dev/null || true
        wait "$pid" 2>/dev/null || true
    done
    window_pid=
    display_pid=
}

press() {
    xdotool key "$1"
    sleep 0.7
}

# busy_ticks: for every thread of the window, its name and the processor time it has taken so far.
busy_ticks() {
    for stat in /proc/"$window_pid"/task/*/stat; do
        # The name stands in brackets and may hold spaces; user and system time are the 12th and 13th field after it.
        sed -n 's/^[0-9]* (\(.*\)) /\1|/p' "$stat" 2>/dev/null |
            awk -F'|' '{ split($2, field, " "); print $1 "|" field[12] + field[13] }'
    done
}
