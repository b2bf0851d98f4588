# Sourced by scripts/demo and scripts/test: makes .venv/NAME when it is missing or out of date.
# Usage: environment NAME FILES-TO-HASH -- PIP-ARGUMENTS

# Tests start hundreds of processes; without files of bytecode each would compile every module again.
unset PYTHONDONTWRITEBYTECODE

environment() {
    local name="$1"; shift
    local inputs=()
    while [ "$1" != "--" ]; do inputs+=("$1"); shift; done
    shift
    local dir=".venv/$name" python="${PYTHON:-python3}"
    local stamp
    stamp="$("$python" --version) $(cat "${inputs[@]}" | sha256sum | cut -c1-64)"
    if [ -x "$dir/bin/python" ] && [ "$(cat "$dir/made-from" 2>/dev/null)" = "$stamp" ]; then
        return 0
    fi
    if ! "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
        echo "nestyield needs Python 3.11 or newer as '$python'; set PYTHON to another one" >&2
        return 2
    fi
    if ! "$python" -c 'import ensurepip, venv' 2>/dev/null; then
        echo "this Python cannot make virtual environments; on Debian and Ubuntu: sudo apt-get install python3-venv" >&2
        return 2
    fi
    echo "making the environment $dir (once) ..." >&2
    rm -f "$dir/made-from"
    [ -x "$dir/bin/python" ] || "$python" -m venv "$dir"
    "$dir/bin/python" -m pip install --quiet --disable-pip-version-check "$@"
    echo "$stamp" > "$dir/made-from"
}
