"""What a band is of a normal distribution; without numpy, for what is told before any is loaded."""

from __future__ import annotations

#: From the middle of a normal distribution to either end of its band, the middle nine tenths, in standard deviations.
NORMAL_END = 1.6448536269514722
