"""Calculations beside the loop that serves pages, one at a time and in their order."""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any


class Turns(ThreadPoolExecutor):
    """Two threads, of which one calculates at a time: the next begins while one waits for what works elsewhere.

    A plain lock would not do: whoever gives it back may have it again before the one that waits for it.
    """

    def __init__(self) -> None:
        super().__init__(2, thread_name_prefix="refdb-verdict")
        self._guard = threading.Lock()
        self._taken = False
        #: Those that wait, each before a lock that is opened for it.
        self._waiting: deque[threading.Lock] = deque()
        self._of_thread = threading.local()

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        """As for any executor; what was asked first is begun first."""
        return super().submit(self._in_turn, fn, *args, **kwargs)

    def _in_turn(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Any:
        self._take()
        self._of_thread.has_it = True
        try:
            return fn(*args, **kwargs)
        finally:
            self._of_thread.has_it = False
            self._pass_on()

    @contextmanager
    def let_go(self) -> Iterator[None]:
        """Let the next begin meanwhile; whoever waited so goes on before any that is not begun.

        Nothing happens where the thread that asks has no turn.
        """
        if not getattr(self._of_thread, "has_it", False):
            yield
            return
        self._pass_on()
        try:
            yield
        finally:
            self._take()

    def _take(self) -> None:
        with self._guard:
            if not self._taken:
                self._taken = True
                return
            gate = threading.Lock()
            gate.acquire()
            self._waiting.append(gate)
        gate.acquire()

    def _pass_on(self) -> None:
        with self._guard:
            if self._waiting:
                self._waiting.popleft().release()
            else:
                self._taken = False
