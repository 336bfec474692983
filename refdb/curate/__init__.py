"""From `data_sources/` to the store: read the rows, check them, convert, build, and verify what was built."""
