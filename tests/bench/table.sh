#!/bin/sh
# What the whole program costs: measures takes of the virtual deck finch-as-found offline and prints, for each, how
# many times faster than real time it went by the processor time it used (user and system, best of three runs).
#
#     sh tests/bench/table.sh [MINUTES]      10 minutes at 48 kHz unless told otherwise; a fifth of that above
#
# Takes are kept in target/bench. The cost of each meter by itself: cargo bench --bench meters.
cd "$(dirname "$0")/../.." || exit 1
minutes=${1:-10}
case $minutes in
'' | *[!0-9]* | 0)
    echo "table.sh: MINUTES is '$minutes'; give a whole number above 0" >&2
    exit 2
    ;;
esac
cargo build --release --locked --quiet || exit 1
program=target/release/trimwatch
mkdir -p target/bench || exit 1

# cpu_seconds FILE: user and system seconds of one measurement. `times` in a shell of its own prints, on its second
# line, what the commands it ran have used.
cpu_seconds() {
    (
        "$program" measure "$1" --tone 3150 --format json >target/bench/readings.json || exit 1
        times
    ) | awk 'NR == 2 {
        for (i = 1; i <= 2; i++) {
            split($i, part, "m")
            sub("s", "", part[2])
            sum += 60 * part[1] + part[2]
        }
        print sum
    }'
}

# row RATE SECONDS: one line of the table.
row() {
    take=target/bench/finch-$1-$2s.wav
    if [ ! -s "$take" ]; then
        "$program" virtual finch-as-found --out "$take.part.wav" --seconds "$2" --rate "$1" --bits 24 >/dev/null ||
            exit 1
        mv "$take.part.wav" "$take"
    fi
    best=''
    for _ in 1 2 3; do
        used=$(cpu_seconds "$take")
        [ -n "$used" ] || exit 1
        best=$(echo "$used ${best:-$used}" | awk '{ print ($1 < $2) ? $1 : $2 }')
    done
    echo "$1 $2 $best" | awk '{
        printf "| %.1f kHz | %d min | %.2f s | %.0f | %.0f |\n", $1 / 1000, $2 / 60, $3, $2 / $3, $3 / $1 / $2 * 1e9
    }'
}

fifth=$(((minutes + 4) / 5))
echo '| stereo take, 24 bit | length | processor time | x real time | ns a frame |'
echo '|---|---|---|---|---|'
row 48000 $((60 * minutes))
row 96000 $((60 * fifth))
row 192000 $((60 * fifth))
