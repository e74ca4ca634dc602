#!/bin/sh
# What the program costs and how exact it is, as tables for the README.
#
#     sh tests/bench/table.sh [--minutes N] [--takes N] [PART...]
#
# Parts, all of them unless named:
#   speed      takes of the virtual deck finch-as-found measured offline: how many times faster than real time, by the
#              processor time of the whole program (user and system, best of three), and how much faster than the numpy
#              and scipy pipeline of tests/reference on the same take
#   live       `watch` on the sound of a null sink at 192 kHz: percent of one core
#   memory     `watch` on the virtual deck: greatest memory
#   hours      four hours against one, and an hour through the live worker, from samples in memory
#   meters     each meter: nanoseconds a frame, and how near that is to what the machine could do
#   estimators errors over their Cramer-Rao bounds
#   wow        the needle half a second after a step of the speed, with wow
#   ring       from the ring to the snapshot
#
# --minutes: length of the takes of `speed` at 48 kHz, 3 unless told otherwise; a third of that at 96 and 192 kHz.
# --takes: takes of `estimators` and `wow`. Nothing else should run on the machine. Takes are kept in target/bench.
cd "$(dirname "$0")/../.." || exit 1
. tests/machine.sh

minutes=3 takes=240 parts=''
whole() {
    case $2 in
    '' | *[!0-9]* | 0*)
        complain "table.sh: $1 is '$2'; give a whole number above 0"
        exit 2
        ;;
    esac
}
while [ $# -gt 0 ]; do
    case $1 in
    --minutes) whole "$1" "$2" && minutes=$2 && shift ;;
    --takes) whole "$1" "$2" && takes=$2 && shift ;;
    speed | live | memory | hours | meters | estimators | wow | ring) parts="$parts $1" ;;
    *)
        complain "table.sh: there is no part '$1'; the first lines of the script name them"
        exit 2
        ;;
    esac
    shift
done
parts=${parts:-speed live memory hours meters estimators wow ring}
wanted() {
    case " $parts " in *" $1 "*) return 0 ;; esac
    return 1
}

need_rust || exit 1
program=target/release/trimwatch
scratch=target/bench
mkdir -p "$scratch" || exit 1
cargo build --release --locked --quiet || exit 1

# take RATE SECONDS: the path of such a take, made when missing.
take() {
    path=$scratch/finch-$1-$2s.wav
    if [ ! -s "$path" ]; then
        "$program" virtual finch-as-found --out "$path.part.wav" --seconds "$2" --rate "$1" --bits 24 >/dev/null ||
            return 1
        mv "$path.part.wav" "$path" || return 1
    fi
    echo "$path"
}

# processor_seconds COMMAND...: user and system seconds of a command. `times` in a shell of its own prints, on its
# second line, what the commands it ran have used.
processor_seconds() {
    (
        "$@" >"$scratch/out.txt" || exit 1
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

# fastest COMMAND...: the least of three.
fastest() {
    best=''
    for _ in 1 2 3; do
        used=$(processor_seconds "$@")
        [ -n "$used" ] || return 1
        best=$(echo "$used ${best:-$used}" | awk '{ print ($1 < $2) ? $1 : $2 }')
    done
    echo "$best"
}

# find_python: sets $python to one with the reference pipeline's packages; the reference's own script makes it.
find_python() {
    for python in python3 .venv/bin/python; do
        "$python" -c 'import numpy, scipy, soundfile' 2>/dev/null && return 0
    done
    complain "No Python with numpy, scipy and soundfile: sh tests/reference/run.sh $program makes one; then run this again."
    return 1
}

# speed_row RATE SECONDS
speed_row() {
    file=$(take "$1" "$2") || return 1
    used=$(fastest "$program" measure "$file" --tone 3150 --format json) || return 1
    echo "$1 $2 $used" | awk '{
        printf "| %.0f kHz | %.1f min | %.2f s | %.0f | %.1f |", $1 / 1000, $2 / 60, $3, $2 / $3, $3 / $1 / $2 * 1e9
    }'
    if [ -z "$python" ]; then
        say ' no Python | | |'
        return 0
    fi
    lines=$("$python" -c 'import json, sys; print(len(json.load(sys.stdin)["flutter"]["components"]))' \
        <"$scratch/out.txt") || return 1
    numbers=$("$python" tests/bench/pipeline_time.py "$file" 3150 "$lines") || return 1
    all=$(processor_seconds "$python" tests/reference/pipeline.py "$file" --tone 3150 --lines "$lines") || return 1
    echo "$used $numbers $all $lines" | awk '{
        printf " %.2f s (%.1f x) | %.2f s (**%.1f x**, %d lines) | %.2f s (%.1f x) |\n", $2, $2 / $1, $3, $3 / $1, $5, $4, $4 / $1
    }'
}

if wanted speed; then
    find_python || python=''
    # One thread, and no byte code left behind.
    export OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 PYTHONDONTWRITEBYTECODE=1
    say 'Offline, stereo, 24 bit. The program: processor time of everything (start, reading, decoding, meters, lines,'
    say 'JSON), best of three. Beside it the numpy and scipy pipeline of tests/reference on the same take, one thread:'
    say 'of its measurement alone (samples in memory, packages loaded) without and with its search for as many flutter'
    say 'lines as the program found, and of everything (interpreter, packages, reading, measurement with lines); in'
    say 'brackets how many times the program'"'"'s everything that is.'
    say ''
    say '| take | length | processor time | x real time | ns a frame | pipeline without lines | with lines | everything |'
    say '|---|---|---|---|---|---|---|---|'
    third=$(((60 * minutes + 2) / 3))
    speed_row 48000 $((60 * minutes)) || exit 1
    speed_row 96000 "$third" || exit 1
    speed_row 192000 "$third" || exit 1
    say ''
fi

if wanted live || wanted memory; then
    say 'Live, `watch --format jsonl`: processor time of the program over the seconds of signal; greatest memory.'
    say ''
    say '| source | processor | memory | |'
    say '|---|---|---|---|'
fi
if wanted live; then
    file=$(take 192000 30) || exit 1
    sh tests/bench/live.sh "$program" "$file" 22 192000 || exit 1
fi
if wanted memory; then
    "$program" watch --virtual-deck finch-as-found --rate 48000 --seconds 30 --format jsonl >"$scratch/out.txt" &
    watch=$!
    slept=0
    for seconds in 8 28; do
        sleep $((seconds - slept))
        slept=$seconds
        memory=$(sed -n 's/^VmHWM:[^0-9]*\([0-9]*\) kB/\1/p' "/proc/$watch/status" 2>/dev/null)
        echo "${memory:-0} $seconds" | awk '{ printf "| virtual deck, 48 kHz | | %.1f MB | after %d s |\n", $1 * 1024 / 1e6, $2 }'
    done
    wait "$watch" || exit 1
fi
if wanted live || wanted memory; then say ''; fi

bench() { cargo bench --quiet --locked --bench "$@" || exit 1; }
if wanted hours; then bench bounds -- hours; fi
if wanted meters; then bench limits -- 48000 192000; fi
for part in estimators wow ring; do
    if wanted "$part"; then bench bounds -- "$part" --takes "$takes"; fi
done
