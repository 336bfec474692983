"""What scripts/smoke asks of an installed refdb; needs the standard library only.

python -I smoke_checks.py OUT.json          run the installed command, check the answers, write their numbers
python -I smoke_checks.py --bare LINK       run it through a link elsewhere, without a home and without a network
python smoke_checks.py --wheels A B         fail unless two wheels hold the same files
python smoke_checks.py --oldest PYPROJECT   print the oldest version of every package, as constraints
python smoke_checks.py --same A.json B.json ...   fail unless the numbers agree
"""

from __future__ import annotations

import importlib.metadata
import json
import math
import os
import re
import signal
import subprocess
import sys
import sysconfig
import tempfile
import tomllib
import urllib.request
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

STATUS = {"suits": 0, "suits with care": 0, "does not suit": 1, "cannot say": 5}
PACKAGES = (
    "numpy",
    "typer",
    "datasette",
    "sqlite-utils",
    "pint",
    "platformdirs",
    "python-multipart",
    "rectpack",
    "segno",
)
#: Two computers may round the last digits otherwise, and one draw of 128 may fall to the other side.
RELATIVE, ABSOLUTE = 2e-3, 0.01


class Failed(Exception):
    """A check that does not hold."""


def want(holds: object, what: str) -> None:
    """Raise Failed unless it holds."""
    if not holds:
        raise Failed(what)


def command() -> str:
    """The installed command of this interpreter."""
    return str(Path(sysconfig.get_path("scripts"), "refdb"))


def asked(*words: str, status: int | None = 0) -> Any:
    """The JSON of an answer; None for a status takes that which the verdict demands."""
    done = subprocess.run([command(), *words, "--json"], capture_output=True, text=True, timeout=120, check=False)
    told = f"refdb {' '.join(words)}: status {done.returncode}, {done.stderr.strip()[-500:]}"
    want(done.stderr == "" and done.stdout.startswith("{"), told)
    answer = json.loads(done.stdout)
    want(done.returncode == (STATUS[answer["verdict"]] if status is None else status), told)
    return answer


def numbers(answer: Any, path: str = "") -> Iterator[tuple[str, float]]:
    """Every number in an answer, with where it stands."""
    if isinstance(answer, dict):
        for key, value in answer.items():
            yield from numbers(value, f"{path}/{key}")
    elif isinstance(answer, list):
        for k, value in enumerate(answer):
            yield from numbers(value, f"{path}/{k}")
    elif isinstance(answer, float):
        yield path, answer


def commands() -> dict[str, Any]:
    """Ask six questions that need the calculation, and check the answers against what physics allows."""
    suits = asked("suits", "clear-hard-lead-free", "copper-sheet", "--metal-thickness", "0.777mm", status=None)
    want(suits["verdict"] in STATUS and suits["reasons"], "suits: no reasons")
    stages = suits["numbers"]["stages"]
    values = [value for _, value in numbers(stages)]
    want(len(stages) >= 2 and len(values) > 10, "suits: no stages")
    want(all(map(math.isfinite, values)) and max(map(abs, values)) > 1, "suits: stresses that cannot be")
    clears = asked("clears", "gold-foil-24k", "--on", "fine-silver-clay")
    want(len(clears["rows"]) >= 3 and {row["verdict"] for row in clears["rows"]} <= set(STATUS), "clears: rows")
    glasses = asked("glasses", "--on", "fine-silver-clay")
    want(len(glasses["rows"]) >= 20 and glasses["rows"][0]["verdict"].startswith("suits"), "glasses: rows")
    mixed = asked("estimate", "SiO2 48, Na2O 13.6, K2O 10.4, B2O3 8, Al2O3 7, CaO 5, BaO 8", "--on", "copper-sheet")
    found = {row["property"]: row for row in mixed["properties"]}["expansion"]
    want(found["low"] < found["value"] < found["high"] and 10 < found["value"] < 15, "estimate: expansion")
    strip = asked(
        "mine",
        "strip",
        "--metal",
        "copper-sheet",
        "--metal-thickness",
        "0.5mm",
        "--glass-thickness",
        "0.3mm",
        "--length",
        "100mm",
        "--bow",
        "4.4mm",
    )
    bent = strip["expansion_ppm_per_k"]
    want(bent["low"] < bent["value"] < bent["high"] and 10 < bent["value"] < 17, "mine strip: expansion")
    with tempfile.TemporaryDirectory() as folder:
        file = str(Path(folder, "piece.toml"))
        new = subprocess.run([command(), "piece", "new", file], capture_output=True, text=True, check=False)
        want(new.returncode == 0 and Path(file).is_file(), f"piece new: {new.stderr}")
        piece = asked("piece", "check", file, status=None)
    want(piece["reasons"], "piece check: no reasons")
    piece.pop("file", None)
    return {"suits": suits, "clears": clears, "glasses": glasses, "estimate": mixed, "strip": strip, "piece": piece}


def page() -> None:
    """Read one page from `refdb browse`, and end it as Ctrl-C does."""
    process = subprocess.Popen(
        [command(), "browse", "--no-open"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        assert process.stdout is not None
        line = process.stdout.readline()
        address = re.search(r"http://\S+/", line)
        if address is None:
            process.kill()
            raise Failed(f"browse: {line}{process.communicate()[1]}")
        question = "suits?glass=clear-hard-lead-free&metal=copper-sheet&metal_thickness=0.777mm"
        with urllib.request.urlopen(address[0] + question, timeout=60) as answer:
            text = answer.read().decode()
            want(answer.status == 200 and "copper sheet" in text and "<svg" in text, f"browse: {text[:500]}")
        process.send_signal(signal.SIGINT)
        _, errors = process.communicate(timeout=30)
        want((process.returncode, errors) == (0, ""), f"browse ended with {process.returncode}: {errors}")
    finally:
        if process.poll() is None:
            process.kill()
            process.wait()


def check(out: Path) -> str:
    """Run all checks, write the answers, and tell with what versions they held."""
    place = importlib.metadata.distribution("refdb").locate_file("refdb")
    want(Path(sys.prefix) in Path(str(place)).parents, f"refdb is taken from {place}, not from the environment")
    for name in [name for name in os.environ if name.startswith(("REFDB_", "PYTHON"))]:
        del os.environ[name]
    os.environ["REFDB_WORKSHOP"] = str(out.with_suffix(".workshop"))
    answers = commands()
    page()
    out.write_text(json.dumps(answers), encoding="utf-8")
    versions = ", ".join(f"{name} {importlib.metadata.version(name)}" for name in PACKAGES)
    return f"{len(answers)} commands and a page held on {sys.version.split()[0]} with {versions}"


#: Kept beside the installed packages while `bare` runs: whatever would leave this computer fails, and is written down.
NO_NETWORK = """import os, sys
def _hook(event, given):
    if event in ("socket.connect", "socket.sendto", "socket.getaddrinfo", "socket.gethostbyname"):
        place = given[0] if event.startswith("socket.get") else given[1]
        host = place if isinstance(place, (str, bytes, type(None))) else place[0]
        if host not in (None, "", "127.0.0.1", "::1", "localhost"):
            with open(os.environ["REFDB_SMOKE_CALLS"], "a") as file:
                file.write(f"{event} {host}\\n")
            raise OSError("no network")
sys.addaudithook(_hook)
"""


def bare(link: Path) -> str:
    """Run the command by a link in another folder, as one without a home and without a network would.

    The home is unset, a file, or a folder that cannot be made. Look-ups must be answered all the same, and what cannot
    be kept must be told in one line.
    """
    packages = Path(sysconfig.get_path("purelib"))
    link.parent.mkdir(parents=True, exist_ok=True)
    link.symlink_to(command())
    no_folder = link.with_name("a file")
    no_folder.write_text("no home", encoding="utf-8")
    calls = link.with_name("calls")
    hook, starter = packages / "refdb_smoke_no_network.py", packages / "refdb_smoke_no_network.pth"
    hook.write_text(NO_NETWORK, encoding="utf-8")
    starter.write_text("import refdb_smoke_no_network\n", encoding="utf-8")
    kept = {k: v for k, v in os.environ.items() if not k.startswith(("REFDB_", "PYTHON", "XDG_")) and k != "HOME"}
    kept["REFDB_SMOKE_CALLS"] = str(calls)
    count = 0
    try:
        out = _run([sys.executable, "-c", "import socket; socket.create_connection(('192.0.2.1', 9), 5)"], kept)
        want(out.returncode == 1 and calls.is_file(), "the network is not held off, so nothing is shown")
        calls.unlink()
        for home in (None, str(no_folder), str(no_folder / "none")):
            settings = kept if home is None else kept | {"HOME": home}
            for words in BARE if home is None else BARE[:2]:
                out = _run([str(link), *words], settings)
                told = f"refdb {' '.join(words)} with HOME {home}: status {out.returncode}, {out.stderr[-500:]}"
                want((out.returncode, out.stderr) == (0, "") and out.stdout, told)
                count += 1
            if home is not None:
                out = _run([str(link), *KEEPS], settings)
                told = f"mine add with HOME {home}: status {out.returncode}, {out.stderr[-500:]}"
                want(out.returncode == 4 and out.stderr.count("\n") == 1 and "--workshop" in out.stderr, told)
        out = _run([sys.executable, "-m", "refdb", "show", "copper-sheet"], kept)
        want((out.returncode, out.stderr) == (0, ""), f"python -m refdb: {out.stderr[-500:]}")
        want(not calls.exists(), f"it asked for the network: {calls.read_text() if calls.exists() else ''}")
    finally:
        starter.unlink()
        hook.unlink()
    return f"{count} answers through a link, without a home and without a network"


#: What one without a home asks: of the own shelf, of the store, of the plate, of all bits.
BARE = (
    ("mine", "list"),
    ("show", "copper-sheet"),
    ("suits", "clear-hard-lead-free", "copper-sheet", "--metal-thickness", "0.777mm"),
    ("verify",),
)
#: And what such a one cannot have kept.
KEEPS = ("mine", "add", "glass", "--name", "jar", "--like", "clear-hard-lead-free")


def _run(words: list[str], settings: dict[str, str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(words, capture_output=True, text=True, env=settings, timeout=120, check=False)


def wheels(paths: list[Path]) -> str:
    """Fail unless all wheels hold the same files, byte for byte, the record of them included."""
    held = []
    for path in paths:
        with zipfile.ZipFile(path) as archive:
            held.append({name: archive.read(name) for name in archive.namelist()})
    first, *others = held
    for path, other in zip(paths[1:], others, strict=True):
        odd = sorted(name for name in first.keys() | other.keys() if first.get(name) != other.get(name))
        want(not odd, f"{path.name} differs from the first wheel: {', '.join(odd[:5])}")
    want(any(name.endswith("reference.db") for name in first), "the wheel has no store")
    kept = [name for name in first if not name.startswith("refdb")]
    want(not kept, f"the wheel holds what is not refdb's: {', '.join(kept[:5])}")
    return f"{len(first)} files, the same in {len(paths)} wheels"


def oldest(pyproject: Path) -> Iterator[str]:
    """Constraints to the oldest version allowed of whatever refdb needs, to run and to be built."""
    data = tomllib.loads(pyproject.read_text(encoding="utf-8"))
    lowest: dict[str, str] = {}
    for text in (*data["project"]["dependencies"], *data["build-system"]["requires"]):
        found = re.fullmatch(r"([\w.-]+)>=([\w.]+),<[\w.]+", text)
        want(found, f"{text} in pyproject.toml is not bounded on both sides")
        assert found is not None
        want(lowest.setdefault(found[1], found[2]) == found[2], f"{found[1]} has two lower bounds in pyproject.toml")
    return (f"{name}=={version}" for name, version in lowest.items())


def same(paths: list[Path]) -> str:
    """Fail unless the answers agree in every number and in each verdict."""
    want(len(paths) > 1, "there are no two environments to compare")
    first, *others = [json.loads(path.read_text(encoding="utf-8")) for path in paths]
    expected = dict(numbers(first))
    for path, other in zip(paths[1:], others, strict=True):
        found = dict(numbers(other))
        want(found.keys() == expected.keys(), f"{path.stem} answers with other numbers than {paths[0].stem}")
        for where, value in expected.items():
            want(
                math.isclose(found[where], value, rel_tol=RELATIVE, abs_tol=ABSOLUTE),
                f"{where}: {value} by {paths[0].stem}, {found[where]} by {path.stem}",
            )
        want(
            all(first[name].get("verdict") == other[name].get("verdict") for name in first),
            f"another verdict by {path.stem} than by {paths[0].stem}",
        )
    return f"{len(expected)} numbers agree in {len(paths)} environments"


def main(words: list[str]) -> int:
    """Run what is asked for; 1 where it does not hold."""
    try:
        match words:
            case ["--oldest", path]:
                print("\n".join(oldest(Path(path))))
            case ["--same", *paths]:
                print(same([Path(path) for path in paths]))
            case ["--bare", link]:
                print(bare(Path(link)))
            case ["--wheels", *paths]:
                print(wheels([Path(path) for path in paths]))
            case [path]:
                print(check(Path(path)))
            case _:
                print(__doc__, file=sys.stderr)
                return 2
    except Failed as failed:
        print(failed, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
