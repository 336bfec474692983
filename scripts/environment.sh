# Sourced by run and test: makes .venv in the project root, and makes anew only what rests on something that changed.
# shellcheck shell=bash

root=$(cd -P -- "${BASH_SOURCE[0]%/*}/.." && pwd)
venv=$root/.venv
stamp=$venv/refdb-setup

fail() {
    printf 'refdb: %s\n' "$1" >&2
    exit 4
}

find_python() { # a Python that is new enough: $PYTHON, or the first one on PATH
    local name
    for name in ${PYTHON:+"$PYTHON"} python3 python3.14 python3.13 python3.12 python3.11 python; do
        if "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
            printf '%s\n' "$name"
            return
        fi
    done
    fail "no Python 3.11 or newer is on PATH; install one, or name it: PYTHON=/path/to/python3.11 $0"
}

younger() { # which of these files and folders changed since the last set-up; folders of data count themselves
    find "$@" -name __pycache__ -prune -o \( -type f -o -path "$root/data_sources*" \) -newer "$stamp" -print |
        head -n 1
}

due() { # due EXTRAS: what has to be made anew: everything, the store, or nothing
    local had=
    if [ -f "$stamp" ]; then
        read -r had <"$stamp" || true
    fi
    # The stamp names the extras and the folder; a .venv with the extras of the tests serves for a plain run too.
    case $had in
        "dev $root" | "${1:-none} $root") ;;
        *) had= ;;
    esac
    if [ -z "$had" ] || ! [ -x "$venv/bin/python" ] || [ -n "$(younger "$root/pyproject.toml")" ]; then
        echo everything
    elif ! [ -f "$root/refdb/reference.db" ] || ! [ -f "$root/refdb/reference.db.sha256" ] ||
        [ -n "$(younger "$root/data_sources" "$root/refdb/curate" "$root/refdb/store" \
            "$root/refdb/__init__.py")" ]; then
        echo store
    fi
}

install_project() { # install_project EXTRAS
    local python log
    log=$(mktemp)
    if ! { [ -x "$venv/bin/python" ] && "$venv/bin/python" -m pip --version; } >/dev/null 2>&1; then
        python=$(find_python) || exit 4
        if ! "$python" -c 'import venv, ensurepip' >/dev/null 2>&1; then
            fail "$python cannot make environments; on Debian: apt-get install python3-venv"
        fi
        printf 'refdb: setting up %s; this is done once, needs the network and takes a minute\n' "$venv" >&2
        "$python" -m venv --clear "$venv" >"$log" 2>&1 || fail "$venv cannot be made: $(tail -n 1 "$log")"
    else
        printf 'refdb: bringing %s up to date\n' "$venv" >&2
    fi
    if ! "$venv/bin/python" -m pip install --quiet --disable-pip-version-check --no-input \
        --editable "$root${1:+[$1]}" >"$log" 2>&1 </dev/null; then
        fail "the installation failed (all of it: $log): $(grep -i '^ *error:' "$log" | tail -n 1)"
    fi
    rm -f -- "$log"
    # As an installer does, and also where the surroundings forbid Python to keep compiled files by itself.
    "$venv/bin/python" -m compileall -q "$root/refdb" || true
}

ready() { # ready EXTRAS: leave a .venv with the project and its extras, and a store of the present data
    local extras=$1 had= begun
    [ -n "$(due "$extras")" ] || return 0
    if command -v flock >/dev/null 2>&1; then
        # Of two first calls at once, the second waits and finds the work done.
        exec 9<"$root/pyproject.toml"
        flock 9
    fi
    begun=$(mktemp)
    case $(due "$extras") in
        everything)
            if [ -f "$stamp" ]; then
                read -r had <"$stamp" || true
            fi
            case $had in dev*) extras=dev ;; esac
            install_project "$extras"
            printf '%s\n' "${extras:-none} $root" >"$stamp"
            ;;
        store)
            "$venv/bin/python" "$root/scripts/build_store.py" >/dev/null || exit $?
            printf 'refdb: the store was built anew, since its sources changed\n' >&2
            ;;
    esac
    # The stamp is as old as the beginning of the work, so that a change made meanwhile is not overlooked.
    [ ! -f "$stamp" ] || touch -r "$begun" "$stamp"
    rm -f -- "$begun"
    if command -v flock >/dev/null 2>&1; then
        exec 9<&-
    fi
}
