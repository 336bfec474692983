"""The stores: what their tables are, and how the reference is read."""
