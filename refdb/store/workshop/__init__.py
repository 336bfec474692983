"""A person's own records, in a file beside the reference."""
