#!/bin/sh
# Builds trimwatch and writes the sheets of the invented workshop's six jobs, as PDF and as HTML, into a folder:
# sh demo-data/sheets.sh [FOLDER] (target/sheets where none is named).
start=$(pwd)
cd "$(dirname "$0")/.." || exit 1
. tests/machine.sh

case ${1:-} in
    '') folder=$(pwd)/target/sheets ;;
    /*) folder=$1 ;;
    *) folder=$start/$1 ;;
esac
need_packages 'the build' gcc libc6-dev libasound2-dev pkg-config
need_rust || exit 1
say 'Building; the first time it takes some minutes.'
cargo build --release --locked || exit 1
mkdir -p "$folder" || exit 1

# The last deck was here before: its sheet tells of the first job.
for job in demo-data/jobs/HL-*.json; do
    earlier=
    case $job in *HL-0051.json) earlier='--earlier demo-data/jobs/HL-0031.json' ;; esac
    for kind in pdf html; do
        # $earlier is two words or none.
        target/release/trimwatch sheet "$job" $earlier --out "$folder/$(basename "$job" .json).$kind" || exit 1
    done
done
