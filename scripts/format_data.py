"""Sort and normalise the CSV files of data_sources/ and write their datapackage.json.

    python scripts/format_data.py [--check] [--in DIR]

With --check nothing is written, and the exit status is 1 when anything is stale. Figures are never touched.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from refdb.curate.tidy import rewrite, stale  # noqa: E402
from refdb.errors import RefdbError  # noqa: E402


def main() -> int:
    """Run the formatter; return the exit status."""
    parser = argparse.ArgumentParser(description="Sort and normalise the CSV files; write datapackage.json.")
    parser.add_argument("--check", action="store_true", help="write nothing; exit 1 when a file is stale")
    parser.add_argument("--in", dest="folder", type=Path, default=ROOT / "data_sources", metavar="DIR")
    options = parser.parse_args()
    try:
        due = stale(options.folder)
        if not options.check:
            rewrite(options.folder, due)
    except RefdbError as error:
        print(error.line, file=sys.stderr)
        return error.exit_status
    for name in due:
        print(f"{name}: {'stale; run scripts/format_data.py' if options.check else 'written anew'}")
    return 1 if due and options.check else 0


if __name__ == "__main__":
    sys.exit(main())
