"""Verdicts: what is known is put to the science, and the outcome is told with its reasons."""
