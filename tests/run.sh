#!/bin/sh
# Runs every test of trimwatch on a fresh Debian or Ubuntu machine, the live and the window tests too, and sums up.
# System packages that are missing are installed (as root or through sudo; elsewhere it prints what to install).
# Exit code 0 only when everything ran and passed.
cd "$(dirname "$0")/.." || exit 1
. tests/machine.sh

BUILD='gcc libc6-dev libasound2-dev pkg-config'
LIVE='libasound2-plugins pulseaudio pulseaudio-utils'
WINDOW='xvfb libgl1-mesa-dri libegl1 libxkbcommon-x11-0 libxkbcommon0 libwayland-client0 xdotool imagemagick
    mesa-vulkan-drivers'
REFERENCE='python3 python3-venv flac'
SHEET='poppler-utils'

summary=''
failed=0
began=$(date +%s)

note() {
    summary="$summary$(printf '  %-7s %-44s %s' "$1" "$2" "$3")
"
    [ "$1" = passed ] || failed=$((failed + 1))
}

# step NAME COMMAND... : runs one step, whatever became of the steps before it.
step() {
    name=$1
    shift
    say ''
    say "== $name"
    started=$(date +%s)
    if "$@"; then
        outcome=passed
    else
        outcome=FAILED
    fi
    note "$outcome" "$name" "$(($(date +%s) - started)) s"
}

finish() {
    say ''
    say "Summary, after $(($(date +%s) - began)) s:"
    printf '%s' "$summary"
    if [ "$failed" -eq 0 ]; then
        say 'All tests passed. Pictures of the window are in target/window-pictures: look at them.'
        exit 0
    fi
    say "$failed of the steps did not pass."
    exit 1
}

# shellcheck disable=SC2086 # one word a package
all_packages() { need_packages 'the tests' $BUILD $LIVE $WINDOW $REFERENCE $SHEET; }

step 'system packages' all_packages
if ! need_rust fmt clippy; then
    note FAILED 'Rust' ''
    finish
fi
# A missing sound server is a failure here, not a reason to skip a test. A quarter of a minute of capture lets every
# reading settle; TRIMWATCH_LIVE_SECONDS=60 is the full length.
export TRIMWATCH_REQUIRE_LIVE=1
export TRIMWATCH_LIVE_SECONDS="${TRIMWATCH_LIVE_SECONDS:-15}"
step 'formatting' cargo fmt --check
step 'lints' cargo clippy --locked --quiet --all-targets -- -D warnings
step 'tests in Rust, with the live ones' cargo test --locked --no-fail-fast
# The tests have built the program; building it by itself would build its libraries with other features once more.
step 'reference pipeline in numpy and scipy' sh tests/reference/run.sh target/debug/trimwatch
step 'the window under Xvfb' sh tests/screen/window.sh target/window-pictures
finish
