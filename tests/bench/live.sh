#!/bin/sh
# What the live program costs on the sound card's side: a private audio server, a null sink at 192 kHz as the card, a
# take played into it, `trimwatch watch` on its monitor. Prints rows of a Markdown table: percent of one core (user and
# system time of the program over the seconds of signal) and the greatest memory.
#
#     sh tests/bench/live.sh PROGRAM TAKE.wav SECONDS RATE
#
# The server's own work is not counted: with a real card it is the system's. Skips with a word where there is no server.
program=$1 take=$2 seconds=$3 rate=$4
for tool in pulseaudio paplay pactl; do
    command -v "$tool" >/dev/null 2>&1 || {
        echo "| live, $rate Hz | skipped: no $tool here (Debian: pulseaudio pulseaudio-utils) | |"
        exit 0
    }
done
# Short: the name of a socket may not be longer than a hundred letters.
folder=$(mktemp -d) || exit 1
mkdir -m 700 "$folder/run" "$folder/home" || exit 1
server='' player=''
trap '[ -z "$player" ] || kill "$player" 2>/dev/null
[ -z "$server" ] || kill "$server" 2>/dev/null
wait 2>/dev/null
rm -rf "$folder"' EXIT
trap 'exit 130' INT TERM
printf 'autospawn = no\nenable-shm = no\n' >"$folder/client.conf"
export HOME="$folder/home" XDG_RUNTIME_DIR="$folder/run"
export PULSE_SERVER="unix:$folder/run/pulse.sock" PULSE_CLIENTCONFIG="$folder/client.conf"
unset PULSE_RUNTIME_PATH PULSE_COOKIE PULSE_SINK PULSE_SOURCE DBUS_SESSION_BUS_ADDRESS

pulseaudio -n --daemonize=no --exit-idle-time=-1 --disallow-exit --use-pid-file=no --log-target=stderr \
    --log-level=error -L "module-native-protocol-unix socket=$folder/run/pulse.sock auth-anonymous=1" \
    -L "module-null-sink sink_name=deck rate=$rate channels=2 format=float32le" 2>"$folder/server.log" &
server=$!
tries=0
until pactl info >/dev/null 2>&1; do
    tries=$((tries + 1))
    if [ "$tries" -gt 100 ]; then
        echo "live.sh: the audio server does not answer:" >&2
        cat "$folder/server.log" >&2
        exit 1
    fi
    sleep 0.1
done
paplay --device=deck "$take" &
player=$!

"$program" watch --input deck.monitor --rate "$rate" --tone 3150 --seconds "$seconds" --format jsonl \
    >"$folder/readings.jsonl" 2>"$folder/watch.log" &
watch=$!
# Just before it ends: the greatest memory so far.
sleep $((seconds - 2))
memory=$(sed -n 's/^VmHWM:[^0-9]*\([0-9]*\) kB/\1/p' "/proc/$watch/status" 2>/dev/null)
# Columns 14 and 15 of its own account are user and system time in ticks; the name before them may hold no space here.
ticks=$(awk '{ print $14 + $15 }' "/proc/$watch/stat" 2>/dev/null)
read_s=$(tail -n 1 "$folder/readings.jsonl" | sed -n 's/.*"seconds":\([0-9.]*\),"lost_frames":\([0-9]*\).*/\1 \2/p')
wait "$watch"
code=$?
if [ "$code" -ne 0 ] || [ -z "$ticks" ] || [ -z "$read_s" ]; then
    echo "live.sh: the program ended with $code" >&2
    cat "$folder/watch.log" >&2
    exit 1
fi
echo "$ticks $(getconf CLK_TCK) ${memory:-0} $rate $read_s" | awk '{
    printf "| live through a null sink, %.0f kHz | %.1f %% of one core | %.1f MB | %.1f s, %d frames lost |\n",
        $4 / 1000, 100 * $1 / $2 / $5, $3 * 1024 / 1e6, $5, $6
}'
