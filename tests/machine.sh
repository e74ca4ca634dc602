# What the two run scripts ask of the machine. Sourced, not run: POSIX sh, from the repository's root.

say() { printf '%s\n' "$*"; }
complain() { printf '%s\n' "$*" >&2; }

# missing_packages NAME... : prints those of the Debian packages that are not installed.
missing_packages() {
    for package in "$@"; do
        case "$(dpkg-query -W -f='${Status}' "$package" 2>/dev/null)" in
        *' installed') ;;
        *) printf '%s ' "$package" ;;
        esac
    done
}

# need_packages PURPOSE NAME... : installs what is missing, as root or through sudo; who can do neither is told what to
# install, and it returns 1. On other systems it only says what is needed: what is there already it cannot know.
need_packages() {
    purpose=$1
    shift
    if ! command -v apt-get >/dev/null 2>&1 || ! command -v dpkg-query >/dev/null 2>&1; then
        complain "Not a Debian or Ubuntu machine. For $purpose it needs what these Debian packages hold: $*"
        return 0
    fi
    missing=$(missing_packages "$@")
    [ -n "$missing" ] || return 0
    if [ "$(id -u)" -eq 0 ]; then
        as_root=''
    elif command -v sudo >/dev/null 2>&1 && { sudo -n true 2>/dev/null || [ -t 0 ]; }; then
        as_root=sudo
    else
        complain "For $purpose install as root: apt-get install $missing"
        return 1
    fi
    say "Installing for $purpose: $missing"
    # The word splitting is meant: one word a package, and no word at all without sudo.
    # shellcheck disable=SC2086
    if $as_root env DEBIAN_FRONTEND=noninteractive apt-get update -q >/dev/null &&
        $as_root env DEBIAN_FRONTEND=noninteractive apt-get install -q -y --no-install-recommends $missing \
            >/dev/null; then
        return 0
    fi
    complain "Could not install for $purpose: $missing"
    return 1
}

# need_rust [COMPONENT...] : checks for a Rust of the version Cargo.toml asks for (and fmt, clippy); else says how to
# get one and returns 1.
need_rust() {
    if ! command -v cargo >/dev/null 2>&1 && [ -x "$HOME/.cargo/bin/cargo" ]; then
        PATH=$HOME/.cargo/bin:$PATH
        export PATH
    fi
    wanted=$(sed -n 's/^rust-version = "\(.*\)"/\1/p' Cargo.toml)
    found=$(rustc --version 2>/dev/null | sed -n 's/^rustc \([0-9]*\.[0-9]*\).*/\1/p')
    if ! command -v cargo >/dev/null 2>&1 || [ -z "$found" ]; then
        complain "Rust is not installed. Install it with rustup (https://rustup.rs), Rust $wanted or newer; then run this again."
        return 1
    fi
    if [ "${found%%.*}" -lt "${wanted%%.*}" ] ||
        { [ "${found%%.*}" -eq "${wanted%%.*}" ] && [ "${found#*.}" -lt "${wanted#*.}" ]; }; then
        complain "Rust $found is too old; Rust $wanted or newer is needed. With rustup: rustup update stable"
        return 1
    fi
    for component in "$@"; do
        if ! cargo "$component" --version >/dev/null 2>&1; then
            complain "cargo $component is missing. With rustup: rustup component add $(component_name "$component")"
            return 1
        fi
    done
}

component_name() {
    case $1 in
    fmt) echo rustfmt ;;
    *) echo "$1" ;;
    esac
}
