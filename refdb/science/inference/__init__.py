"""Calculations run backwards: what a bent strip and test tiles tell of a glass."""
