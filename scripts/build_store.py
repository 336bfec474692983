"""Build the store from the CSV files of data_sources/.

python scripts/build_store.py [--from DIR] [--to FILE]
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from refdb.curate.build import build  # noqa: E402
from refdb.errors import RefdbError  # noqa: E402


def main() -> int:
    """Build; return the exit status."""
    parser = argparse.ArgumentParser(description="Build the reference store from its CSV files.")
    parser.add_argument("--from", dest="sources", type=Path, default=ROOT / "data_sources", metavar="DIR")
    parser.add_argument("--to", dest="target", type=Path, default=ROOT / "refdb" / "reference.db", metavar="FILE")
    options = parser.parse_args()
    try:
        report = build(options.sources, options.target)
    except RefdbError as error:
        print(error.line, file=sys.stderr)
        return error.exit_status
    for name, count in report.rows.items():
        print(f"{count:7,}  {name}")
    print(f"{report.target}: {report.size_bytes / 1e6:.2f} MB, dump sha256 {report.fingerprint}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
