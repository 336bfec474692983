"""Try everything that reads text with inputs nobody means, and tell which end in anything but a value or a refusal.

    python scripts/fuzz.py                         100,000 inputs on two processes
    python scripts/fuzz.py --inputs 10000000       by hand, some hours
    python scripts/fuzz.py --only thickness --seed 7

An input is a text that is meant with bytes changed, or words of its kind in any order. It must be read as numbers that
are finite, or be refused by an error of refdb's own which says what is wrong, and where or what to do. Whatever else
comes of it is printed with the input, shortened as far as it still fails; such inputs belong into
`tests/fuzz_failures.json`, so that they are tried for ever. Same seed, same inputs.
"""

from __future__ import annotations

import argparse
import json
import math
import multiprocessing
import random
import sys
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "scripts")]

from fuzz_targets import Target, refusal_faults, targets  # noqa: E402

from refdb.errors import RefdbError  # noqa: E402

#: Seconds of the processor that one input may take.
PATIENCE_S = 5.0
#: Inputs that one process is given at a time, and different failures of one target that are told.
BATCH, MOST_TOLD = 2_000, 3
_TOKENS = (
    b"\x00",
    b"\xff",
    b"\xc3\x28",
    b"9" * 400,
    b'"',
    b"\n",
    b"\\",
    b"-",
    b"e",
    b".",
    b"\x1b[31m",
    b"\xe2\x80\xae",
)


def changed(draw: random.Random, target: Target) -> str:
    """A text that is meant, with some of its bytes changed; what is no UTF-8 then is there as lone surrogates."""
    raw = bytearray(draw.choice(target.seeds).encode("utf-8", "surrogatepass"))
    for _ in range(draw.randint(1, 6)):
        at = draw.randrange(len(raw) + 1)
        deed = draw.randrange(6)
        if deed == 0:
            raw[at : at + 1] = bytes([draw.randrange(256)])
        elif deed == 1:
            del raw[at : at + draw.randint(1, 8)]
        elif deed == 2:
            raw[at:at] = draw.choice(_TOKENS)
        elif deed == 3:
            raw[at:at] = draw.choice(target.words or ("0",)).encode("utf-8", "surrogatepass")
        elif deed == 4:
            raw[at:at] = raw[at : at + draw.randint(1, 12)] * draw.randint(1, 4)
        else:
            other = draw.choice(target.seeds).encode("utf-8", "surrogatepass")
            raw[at:] = other[draw.randrange(len(other) + 1) :]
    return raw.decode("utf-8", "surrogateescape")


def spoken(draw: random.Random, target: Target) -> str:
    """Words of a kind in any order."""
    return draw.choice(("", " ")).join(draw.choices(target.words, k=draw.randint(1, 10)))


def input_of(draw: random.Random, target: Target) -> str:
    """One input: bytes changed, or words of the kind."""
    return changed(draw, target) if draw.random() < 0.5 else spoken(draw, target)


def numbers_in(found: Any) -> Iterator[float]:
    """Every float of a value, also within bands, records, tuples and dictionaries."""
    if isinstance(found, float):
        yield found
    elif isinstance(found, dict):
        yield from (x for value in found.values() for x in numbers_in(value))
    elif isinstance(found, list | tuple):
        yield from (x for value in found for x in numbers_in(value))
    elif hasattr(found, "band"):
        yield from numbers_in(found.band)
    elif {"value", "low", "high"} <= set(getattr(found, "__dict__", ())):
        yield from (found.value, found.low, found.high)


def fault_of(target: Target, text: str) -> str:
    """What is wrong with what comes of an input, in a line; "" where nothing is."""
    begun = time.process_time()
    try:
        found = target.read(text)
        assert all(math.isfinite(x) for x in numbers_in(found)), "a number that is not finite"
    except RefdbError as error:
        try:
            refusal_faults(error, target.most)
        except AssertionError as fault:
            return str(fault)
    except Exception as error:
        at = error.__traceback__
        while at is not None and at.tb_next is not None:
            at = at.tb_next
        place = f" in {Path(at.tb_frame.f_code.co_filename).name}:{at.tb_lineno}" if at is not None else ""
        return f"{type(error).__name__}{place}: {error}".splitlines()[0]
    if time.process_time() - begun > PATIENCE_S:
        return f"took more than {PATIENCE_S:g} s"
    return ""


def shortened(target: Target, text: str, fault: str) -> str:
    """The input without whatever it fails as well without."""
    kind, size, tries = fault.partition(":")[0], len(text) // 2, 0
    while size and tries < 2_000:
        at = 0
        while at < len(text) and tries < 2_000:
            less, tries = text[:at] + text[at + size :], tries + 1
            if fault_of(target, less).partition(":")[0] == kind:
                text = less
            else:
                at += size
        size //= 2
    return text


def tried(job: tuple[int, int, int, str, str]) -> tuple[Counter[str], dict[tuple[str, str], str]]:
    """Try the inputs from one number to another: how often each target had its turn, and an input of each fault."""
    seed, first, last, only, store = job
    named = _known(store)
    names = [name for name in named if only in ("", name)]
    often = [named[name].often for name in names]
    count: Counter[str] = Counter()
    faults: dict[tuple[str, str], str] = {}
    for number in range(first, last):
        draw = random.Random((seed << 40) + number)
        name = draw.choices(names, often)[0]
        text = input_of(draw, named[name])
        count[name] += 1
        fault = fault_of(named[name], text)
        if fault and (name, fault.partition(":")[0]) not in faults:
            faults[name, fault.partition(":")[0]] = shortened(named[name], text, fault)
    return count, faults


_MADE: dict[str, dict[str, Target]] = {}


def _known(store: str) -> dict[str, Target]:
    if store not in _MADE:
        _MADE[store] = targets(Path(store))
    return _MADE[store]


def main() -> int:
    """Try them all; 1 where one failed."""
    parser = argparse.ArgumentParser(description="Try every reader with inputs that nobody means.")
    parser.add_argument("--inputs", type=int, default=100_000, metavar="N")
    parser.add_argument("--seed", type=int, default=1, metavar="S", help="another seed gives other inputs")
    parser.add_argument("--workers", type=int, default=2, metavar="N", help="processes")
    parser.add_argument("--only", default="", metavar="NAME", help="one target alone")
    parser.add_argument("--store", default=str(ROOT / "refdb" / "reference.db"), metavar="FILE")
    options = parser.parse_args()
    known = _known(options.store)
    if options.only not in ("", *known):
        parser.error(f"--only is one of: {', '.join(known)}")
    jobs = [
        (options.seed, first, min(first + BATCH, options.inputs), options.only, options.store)
        for first in range(0, options.inputs, BATCH)
    ]
    begun, count, faults = time.perf_counter(), Counter[str](), dict[tuple[str, str], str]()
    with multiprocessing.get_context("spawn").Pool(options.workers) as pool:
        for some, wrong in pool.imap_unordered(tried, jobs):
            count.update(some)
            faults = wrong | faults
    told: Counter[str] = Counter()
    for (name, kind), text in sorted(faults.items()):
        told[name] += 1
        if told[name] <= MOST_TOLD:
            print(f"{name}: {kind}\n    {json.dumps([name, text])}")
    print(
        f"{count.total():,} inputs to {len(count)} readers in {time.perf_counter() - begun:.0f} s: {len(faults)} faults"
    )
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
