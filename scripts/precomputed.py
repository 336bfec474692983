"""Write a table of data_sources that is worked out from the records alone, metal by metal on all processors.

Imported first by the scripts that do so: it holds the linear algebra to one thread for each process.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(ROOT))

from refdb.curate.answers import metal_keys  # noqa: E402
from refdb.curate.build import build  # noqa: E402


def make(
    about: str, name: str, what: str, rows_of: Callable[..., Sequence[Any]], as_csv: Callable[[list[Any]], str]
) -> int:
    """Write `data_sources/<name>.csv`, or with `--check` tell whether it is current; the status to end with."""
    parser = argparse.ArgumentParser(description=about)
    parser.add_argument("--check", action="store_true", help="only tell whether the file is current")
    options = parser.parse_args()
    target = ROOT / "data_sources" / f"{name}.csv"
    with tempfile.TemporaryDirectory() as folder:
        # The numbers rest on the records alone, so a store with the old ones, or none, serves.
        store = Path(folder) / "reference.db"
        build(ROOT / "data_sources", store)
        keys = metal_keys(store)
        rows: list[Any] = []
        with ProcessPoolExecutor() as pool:
            for k, part in enumerate(pool.map(partial(rows_of, store), keys), 1):
                rows += part
                print(f"{k} of {len(keys)} metals: {keys[k - 1]}", file=sys.stderr)
    text = as_csv(rows)
    if options.check:
        current = target.is_file() and target.read_text(encoding="utf-8") == text
        print(f"{name}.csv is current" if current else f"{name}.csv is out of date: run scripts/make_{name}.py")
        return 0 if current else 1
    target.write_text(text, encoding="utf-8")
    print(f"{len(rows)} {what}, {len(text) / 1e6:.2f} MB")
    return 0
