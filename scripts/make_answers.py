"""Write data_sources/answers.csv: every glass on every metal at the standard build-up, sampled through the plate.

python scripts/make_answers.py            write the file
python scripts/make_answers.py --check    exit 1 when the file is out of date
"""

from __future__ import annotations

import sys

from precomputed import make  # first, for the threads

from refdb.curate.answers import as_csv, rows_of

if __name__ == "__main__":
    sys.exit(make(__doc__.splitlines()[0], "answers", "answers", rows_of, as_csv))
