"""Write data_sources/builds.csv: the thickest coat over its metal, of every glass on every metal.

python scripts/make_builds.py            write the file
python scripts/make_builds.py --check    exit 1 when the file is out of date
"""

from __future__ import annotations

import sys

from precomputed import make  # first, for the threads

from refdb.curate.builds import as_csv, rows_of

if __name__ == "__main__":
    sys.exit(make(__doc__.splitlines()[0], "builds", "ratios", rows_of, as_csv))
