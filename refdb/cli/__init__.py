"""The command line: one file for a group of commands, `output` for all printing, `main` to bring them together."""

import gc

# A look-up is over before anything it made is garbage; looking for some all the while costs a twentieth of it.
gc.set_threshold(100_000, 20, 20)
