"""What was worked out for records, by the very records: two questions on one glass and metal share it."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

Found = TypeVar("Found")


class Remembered(Generic[Found]):
    """What was found of some records, which are known by identity; the oldest makes room.

    Parameters
    ----------
    most : int
        So many are remembered.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._held: OrderedDict[Hashable, tuple[tuple[object, ...], Found]] = OrderedDict()

    def of(self, records: tuple[object, ...], find: Callable[[], Found], more: Hashable = None) -> Found:
        """What is remembered of records, and of what tells apart findings of the same ones, or is found now."""
        key = (*map(id, records), more)
        held = self._held.get(key)
        if held is None:
            # The records are kept beside, so that no others can take their place in memory.
            held = self._held[key] = records, find()
            if len(self._held) > self._most:
                self._held.popitem(last=False)
        return held[1]
