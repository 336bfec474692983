"""The pool: shared tests of many studios, in a file beside the workshop."""
