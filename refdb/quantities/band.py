"""Beneath `refdb.quantities`: what a band is; apart, so that records need none of the reading of text."""

from __future__ import annotations

import math

from refdb.errors import BadInput
from refdb.frozen import dataclass

SHOWN = 40  # characters of the typed text that a message repeats


def shown(text: object) -> str:
    """The typed text in quotes, cut to 40 characters, with control characters made harmless."""
    try:
        whole = str(text)
    except ValueError:  # Python refuses to write out a whole number of thousands of digits
        whole = type(text).__name__
    cut = whole if len(whole) <= SHOWN else whole[: SHOWN - 3] + "..."
    return '"' + "".join(c if c.isprintable() else "?" for c in cut) + '"'


@dataclass(frozen=True)
class Band:
    """A value with the low and high it may have, all finite and in order; the unit is the holder's business.

    Raises
    ------
    BadInput
        When a number is not finite, or not low <= value <= high.

    Examples
    --------
    >>> import refdb
    >>> refdb.Band(0.8e-3, 0.7e-3, 0.9e-3).scaled(1e3)
    Band(value=0.8, low=0.7, high=0.9)
    """

    value: float
    low: float
    high: float

    def __post_init__(self) -> None:
        try:
            numbers = tuple(float(number) for number in (self.value, self.low, self.high))
        except (TypeError, ValueError, OverflowError):
            typed = shown((self.value, self.low, self.high))
            raise BadInput(f"a band needs three numbers, not {typed}") from None
        for name, number in zip(("value", "low", "high"), numbers, strict=True):
            object.__setattr__(self, name, number)
        if not all(math.isfinite(number) for number in numbers) or not self.low <= self.value <= self.high:
            raise BadInput(
                f"a band of {self.value:g} with low {self.low:g} and high {self.high:g} is out of order",
                "",
                "give finite numbers with low <= value <= high",
            )

    @classmethod
    def exact(cls, value: float) -> Band:
        """A band without width."""
        return cls(value, value, value)

    @property
    def is_exact(self) -> bool:
        """Whether low and high are the value itself."""
        return self.low == self.high

    def plus(self, *others: Band) -> Band:
        """The sum, end by end: all lie low together, or high."""
        every = (self, *others)
        return Band(sum(b.value for b in every), sum(b.low for b in every), sum(b.high for b in every))

    def scaled(self, factor: float) -> Band:
        """Every number times `factor`; a negative one swaps low and high."""
        low, high = sorted((self.low * factor, self.high * factor))
        return Band(self.value * factor, low, high)
