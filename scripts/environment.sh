# Sourced by run and test: makes .venv in the project root, and makes anew only what rests on something that changed.
# shellcheck shell=bash

root=$(cd -P -- "${BASH_SOURCE[0]%/*}/.." && pwd)
venv=$root/.venv
stamp=$venv/refdb-setup

fail() {
    printf 'refdb: %s\n' "$1" >&2
    exit 4
}

# Minor versions of Python 3 that the tests are run on, the newest first, and newer ones that may work.
TESTED="13 12 11"
UNTESTED="14 15 16"
# What pip says of a package whose hash is another than that of scripts/lock.txt.
TAMPERED="DO NOT MATCH THE HASHES"

minor_of() { # minor_of PYTHON: its minor version, if it is Python 3 and can make environments and read stores
    "$1" -c 'import sys, sqlite3, venv, ensurepip; print(sys.version_info[1] if sys.version_info[0] == 3 else 0)' \
        2>/dev/null </dev/null
}

pythons() { # pythons [pyenv]: the first usable Python of each minor version, on PATH and in pyenv's folder if so asked
    local minor name path plain= plainer=
    plain=$(minor_of python3) || true
    plainer=$(minor_of python) || true
    for minor in $TESTED $UNTESTED; do
        if [ "$plain" = "$minor" ]; then
            printf '%s python3\n' "$minor"
        elif [ "$plainer" = "$minor" ]; then
            printf '%s python\n' "$minor"
        elif [ "$(minor_of "python3.$minor")" = "$minor" ]; then
            printf '%s python3.%s\n' "$minor" "$minor"
        elif [ "${1:-}" = pyenv ]; then
            name=
            for path in "${PYENV_ROOT:-${HOME:-}/.pyenv}/versions/3.$minor."*/bin/python3; do
                if [ "$(minor_of "$path")" = "$minor" ]; then name=$path; fi
            done
            [ -z "$name" ] || printf '%s %s\n' "$minor" "$name"
        fi
    done
}

candidates() { # $PYTHON alone where that is given; else what is on PATH, and pyenv's where PATH has nothing
    local found
    if [ -n "${PYTHON:-}" ]; then
        "$PYTHON" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1 ||
            fail "PYTHON=$PYTHON is no Python 3.11 or newer; name one that is, or leave PYTHON away"
        found=$(minor_of "$PYTHON") || fail "$PYTHON cannot make environments; on Debian: apt-get install python3-venv"
        printf '%s %s\n' "$found" "$PYTHON"
        return
    fi
    found=$(pythons)
    [ -n "$found" ] || found=$(pythons pyenv)
    if [ -z "$found" ]; then
        if python3 -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
            fail "python3 cannot make environments; on Debian: apt-get install python3-venv"
        fi
        fail "no Python 3.11 or newer is on PATH; install one, or name it: PYTHON=/path/to/python3.11 $0"
    fi
    printf '%s\n' "$found"
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
    if [ -z "$had" ] || ! [ -x "$venv/bin/python" ] || [ -n "$(younger "$root/pyproject.toml" "$root/scripts/lock.txt")" ]; then
        echo everything
    elif ! [ -f "$root/refdb/reference.db" ] || ! [ -f "$root/refdb/reference.db.sha256" ] ||
        [ -n "$(younger "$root/data_sources" "$root/refdb/curate" "$root/refdb/store" \
            "$root/refdb/__init__.py")" ]; then
        echo store
    fi
}

pip_install() { # pip_install EXTRAS LOG: the tested versions where they fit, else what pyproject.toml allows
    local minor pip=("$venv/bin/python" -m pip install --quiet --disable-pip-version-check --no-input)
    minor=$("$venv/bin/python" -c 'import sys; print(sys.version_info[1])' 2>/dev/null </dev/null) || minor=
    case " $TESTED " in
        *" ${minor:-none} "*)
            if ! "${pip[@]}" --require-hashes --requirement "$root/scripts/lock.txt" >"$2" 2>&1 </dev/null; then
                # Without a network the second way fails as well, and takes as long. A package that is another than
                # the tested one under its name is no want of this system, and is not taken in any way.
                ! grep -q -e 'Retrying (' -e "$TAMPERED" "$2" || return 1
                printf 'refdb: the tested versions do not fit here; taking what pyproject.toml allows\n' >&2
            fi
            ;;
    esac
    "${pip[@]}" --editable "$root${1:+[$1]}" >"$2" 2>&1 </dev/null
}

make_environment() { # make_environment EXTRAS LOG: with the first Python with which all can be installed
    local found minor python before=
    found=$(candidates) || exit 4
    printf 'refdb: setting up %s; this is done once, needs the network and takes a minute\n' "$venv" >&2
    while read -r minor python; do
        if [ -n "$before" ]; then
            # Without a network, or with a package that was changed, no other Python will do either.
            ! grep -q -e 'Retrying (' -e "$TAMPERED" "$2" || return 1
            printf 'refdb: it cannot be set up with Python 3.%s; trying 3.%s\n' "$before" "$minor" >&2
        fi
        before=$minor
        case " $TESTED " in
            *" $minor "*) ;;
            *) printf 'refdb: Python 3.%s is newer than those refdb is tested on\n' "$minor" >&2 ;;
        esac
        if "$python" -m venv --clear "$venv" >"$2" 2>&1 </dev/null && pip_install "$1" "$2"; then
            return
        fi
    done <<<"$found"
    return 1
}

install_project() { # install_project EXTRAS
    local log why
    log=$(mktemp)
    # An environment without a stamp was never finished, and may be of a Python that does not do.
    if [ -f "$stamp" ] && [ -x "$venv/bin/python" ] && "$venv/bin/python" -m pip --version >/dev/null 2>&1; then
        printf 'refdb: bringing %s up to date\n' "$venv" >&2
        pip_install "$1" "$log" || why=failed
    else
        make_environment "$1" "$log" || why=failed
    fi
    if [ -n "${why:-}" ]; then
        ! grep -q "$TAMPERED" "$log" ||
            fail "a package is not the one that was tested, and nothing is installed: its hash differs from scripts/lock.txt (all of it: $log)"
        why=$(grep -i '^ *error:' "$log" | tail -n 1) || why=
        fail "the installation failed (all of it: $log): ${why:-$(tail -n 1 "$log")}"
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
