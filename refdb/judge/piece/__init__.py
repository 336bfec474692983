"""A whole piece, firing by firing."""
