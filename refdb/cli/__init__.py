"""The command line: one file for a group of commands, `output` for all printing, `main` to bring them together."""
