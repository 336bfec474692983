"""Write data_sources/sciglass/estimates.csv: what is computed from the compositions of the published glasses.

python scripts/make_glass_estimates.py            write the file
python scripts/make_glass_estimates.py --check    exit 1 when the file is out of date
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from refdb.curate.estimates import ESTIMATES, as_csv, compositions_in, estimated  # noqa: E402


def main() -> int:
    """Write or check the file; return the exit status."""
    parser = argparse.ArgumentParser(description="Write what is computed from the published compositions.")
    parser.add_argument("--check", action="store_true", help="only tell whether the file is current")
    options = parser.parse_args()
    target = ROOT / "data_sources" / ESTIMATES
    text = as_csv(estimated(compositions_in(ROOT / "data_sources")))
    if options.check:
        current = target.is_file() and target.read_text(encoding="utf-8") == text
        print(
            "estimates.csv is current"
            if current
            else "estimates.csv is out of date: run scripts/make_glass_estimates.py"
        )
        return 0 if current else 1
    target.write_text(text, encoding="utf-8")
    print(f"{text.count(chr(10)) - 1} estimates")
    return 0


if __name__ == "__main__":
    sys.exit(main())
