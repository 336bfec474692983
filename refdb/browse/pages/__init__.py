"""The pages, a file each: every one a function from a question to a template and plain values."""
