"""Planning a piece: its file, its firings, how much of everything, and the sheet for the bench."""
