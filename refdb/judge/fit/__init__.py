"""One glass on one metal."""
