# shellcheck shell=bash
# What server/run and tests/run share: from a bare machine to a Python environment that works.
# Sourced, not run. Every step leaves a stamp, so that the next start does nothing again.
# Kept to bash 3.2, which is what macOS has.

ROOT=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd -P)
VENV=$ROOT/.venv
STAMPS=$VENV/stamps
PYTHON=$VENV/bin/python

say() { printf '%s\n' "$*"; }
fail() { printf '%s\n' "$*" >&2; exit 1; }
have() { command -v "$1" >/dev/null 2>&1; }

# step TEXT COMMAND... - runs it quietly with a sign of life every ten seconds; its output is shown
# when it fails.
step() {
    local text=$1 start=$SECONDS log pid code=0 next=10
    shift
    log=$(mktemp)
    say "$text ..."
    "$@" >"$log" 2>&1 </dev/null &
    pid=$!
    while kill -0 "$pid" 2>/dev/null; do
        sleep 0.2
        if [ $((SECONDS - start)) -ge $next ]; then
            say "  still at it, $((SECONDS - start)) s"
            next=$((next + 10))
        fi
    done
    wait "$pid" || code=$?
    if [ "$code" -ne 0 ]; then
        tail -n 40 "$log" >&2
        rm -f "$log"
        fail "Failed: $text (exit code $code; the last lines of its output stand above)."
    fi
    rm -f "$log"
    say "  done in $((SECONDS - start)) s"
}

# Two starts at once must not build one environment over each other. Without flock (macOS) they may.
lock_setup() {
    have flock || return 0
    exec 9>"$ROOT/.setup.lock"
    flock -n 9 && return 0
    say "Another start is preparing this folder; waiting for it ..."
    flock 9
}
unlock_setup() { exec 9>&-; }

# --- System packages ------------------------------------------------------------------------------

# as_root COMMAND... - as root or through sudo; 1 when there is neither.
as_root() {
    if [ "$(id -u)" -eq 0 ]; then
        "$@"
    elif have sudo && { sudo -n true 2>/dev/null || [ -t 0 ]; }; then
        sudo "$@"
    else
        return 1
    fi
}

missing_debs() {
    local name
    for name in "$@"; do
        dpkg-query -W -f='${Status}' "$name" 2>/dev/null | grep -q ' installed$' || printf '%s ' "$name"
    done
}

# need_debs PURPOSE PACKAGE... - installs what is not there yet.
need_debs() {
    local purpose=$1 missing
    shift
    missing=$(missing_debs "$@")
    [ -z "$missing" ] && return 0
    # sudo asks for its password here, where it can be seen: step hides what its command prints.
    if ! as_root true; then
        fail "$purpose needs these Debian packages, and this start may not install them.
Please run as root:
    apt-get install --no-install-recommends ${missing% }
and start again."
    fi
    [ "${APT_READ:-no}" = yes ] || step "Reading the list of Debian packages" as_root env DEBIAN_FRONTEND=noninteractive apt-get update -q
    APT_READ=yes
    # shellcheck disable=SC2086 # a list of words
    step "Installing ${missing% } ($purpose)" as_root env DEBIAN_FRONTEND=noninteractive \
        apt-get install -y -q --no-install-recommends $missing
}

# need_brews PURPOSE FORMULA... - the same with Homebrew.
need_brews() {
    local purpose=$1 name missing=""
    shift
    have brew || fail "$purpose needs Homebrew's $*: install Homebrew, then start again."
    for name in "$@"; do
        brew list --versions "$name" >/dev/null 2>&1 || missing="$missing $name"
    done
    [ -z "$missing" ] && return 0
    # shellcheck disable=SC2086 # a list of words
    step "Installing$missing ($purpose)" brew install $missing
}

# --- Python ---------------------------------------------------------------------------------------

fits_python() { "$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; }

find_python() {
    local name
    for name in ${BAGTRAIL_PYTHON:-} python3 python3.14 python3.13 python3.12 python3.11; do
        if have "$name" && fits_python "$name"; then
            command -v "$name"
            return 0
        fi
    done
    return 1
}

# The environment, its folder and its Python belong together: a moved folder needs a new one.
ensure_venv() {
    local python identity
    if [ -x "$PYTHON" ] && [ "$(cat "$STAMPS/venv" 2>/dev/null)" = "$ROOT" ] && fits_python "$PYTHON"; then
        return 0
    fi
    if ! python=$(find_python); then
        if [ "$(uname)" = Darwin ]; then
            need_brews "Bagtrail" python@3.12
        elif have apt-get; then
            need_debs "Bagtrail" python3 python3-venv
        fi
        python=$(find_python) || fail "Bagtrail needs Python 3.11 or later. Please install it and start again."
    fi
    if ! "$python" -c 'import ensurepip, venv' 2>/dev/null; then
        have apt-get || fail "$python has no venv module. Please install it and start again."
        identity=$("$python" -c 'import sys; print("python%d.%d-venv" % sys.version_info[:2])')
        need_debs "A Python environment" "$identity"
    fi
    step "Making the Python environment .venv" "$python" -m venv --clear "$VENV"
    mkdir -p "$STAMPS"
    printf '%s' "$ROOT" >"$STAMPS/venv"
}

# ensure_python_packages - the package itself, in place, with what it stands on.
# ensure_python_packages test - and what the tests need.
ensure_python_packages() {
    local extra=${1:-} stamp=$STAMPS/packages target=$ROOT now
    now=$(cksum <"$ROOT/pyproject.toml")
    if [ -n "$extra" ]; then
        stamp=$STAMPS/packages-$extra
        target="${ROOT}[$extra]"
    fi
    [ "$(cat "$stamp" 2>/dev/null)" = "$now" ] && return 0
    # The build hook would fetch Node for a client that is built below anyway.
    step "Installing Python packages${extra:+ for the ${extra}s} (a minute or two)" \
        env BAGTRAIL_NO_CLIENT=1 "$PYTHON" -m pip install --disable-pip-version-check -e "$target"
    printf '%s' "$now" >"$stamp"
    # The tests' packages include the package's own.
    printf '%s' "$now" >"$STAMPS/packages"
}

# --- Pango and fonts, for the labels --------------------------------------------------------------

prints() { "$PYTHON" -W ignore -c 'import weasyprint' >/dev/null 2>&1; }

ensure_printing() {
    # Homebrew's folder is not among those that a Python from elsewhere looks for libraries in.
    if [ "$(uname)" = Darwin ] && have brew; then
        DYLD_FALLBACK_LIBRARY_PATH="$(brew --prefix)/lib:${DYLD_FALLBACK_LIBRARY_PATH:-/usr/local/lib:/usr/lib}"
        export DYLD_FALLBACK_LIBRARY_PATH
    fi
    [ -e "$STAMPS/printing-east" ] && return 0
    if [ "$(uname)" = Darwin ]; then
        prints || need_brews "Printing labels" pango
    elif have apt-get; then
        need_debs "Printing labels" libpangoft2-1.0-0 libharfbuzz-subset0 fonts-dejavu-core \
            fonts-wqy-microhei
    fi
    prints || fail "Labels are printed with Pango, which was not found. Please install your system's
packages for Pango, HarfBuzz and the DejaVu fonts (Fedora: pango dejavu-sans-fonts
dejavu-sans-mono-fonts) and start again."
    touch "$STAMPS/printing-east"
}

# --- The client -----------------------------------------------------------------------------------

# build.py has its own stamps and its own words; only a build that is needed prints anything.
ensure_client() { "$PYTHON" "$ROOT/client/build.py" "$@" </dev/null; }
