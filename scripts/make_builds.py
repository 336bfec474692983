"""Write data_sources/builds.csv: the thickest coat over its metal, of every glass on every metal.

python scripts/make_builds.py            write the file
python scripts/make_builds.py --check    exit 1 when the file is out of date
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(ROOT))

from refdb.curate.answers import metal_keys  # noqa: E402
from refdb.curate.build import build  # noqa: E402
from refdb.curate.builds import as_csv, rows_of  # noqa: E402


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--check", action="store_true", help="only tell whether the file is current")
    options = parser.parse_args()
    target = ROOT / "data_sources" / "builds.csv"
    with tempfile.TemporaryDirectory() as folder:
        # The numbers rest on the records alone, so a store with the old ratios, or none, serves.
        store = Path(folder) / "reference.db"
        build(ROOT / "data_sources", store)
        keys = metal_keys(store)
        rows = []
        with ProcessPoolExecutor() as pool:
            for k, part in enumerate(pool.map(partial(rows_of, store), keys), 1):
                rows += part
                print(f"{k} of {len(keys)} metals: {keys[k - 1]}", file=sys.stderr)
    text = as_csv(rows)
    if options.check:
        current = target.is_file() and target.read_text(encoding="utf-8") == text
        print("builds.csv is current" if current else "builds.csv is out of date: run scripts/make_builds.py")
        return 0 if current else 1
    target.write_text(text, encoding="utf-8")
    print(f"{len(rows)} ratios, {len(text) / 1e6:.2f} MB")
    return 0


if __name__ == "__main__":
    sys.exit(main())
