"""The browse view: our own pages beside Datasette's tables, read only."""
