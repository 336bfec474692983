"""A second process, which works out what stands beside a verdict while the first works out the verdict itself.

It knows no store and no workshop: it is handed the records that are asked about, and gives back shares. Where it is not
there, busy, slow or broken, the first process works them out as well, so that nobody waits for it in vain.
"""

from __future__ import annotations

import multiprocessing
import pickle
import signal
import threading
import time
from collections.abc import Callable, Sequence
from functools import lru_cache
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING, Any

from refdb.browse.server.steady import steady
from refdb.judge.reason import Triple
from refdb.judge.remembered import Remembered

if TYPE_CHECKING:
    from multiprocessing.context import SpawnProcess

    from refdb.judge.fit.question import Question

#: A process that owes an answer for longer is ended [s]; the usual one takes 10 ms.
_LONGEST_S = 5.0
#: An answer is waited for as long as the work took that went on beside it, and so long at the least [s].
_WAITED_S = 0.02
#: So long nothing is asked of a process that was waited for in vain [s]: others want the processors then.
_REST_S = 10.0
#: So many answers may be owed, of which one was given up by whoever asked for it.
_MOST_OWED = 2
#: Records whose text is kept on either side, some 10 kB each.
_MOST_RECORDS = 64


class Aside:
    """The way to the second process, for any thread; it is begun with the first question that could go there."""

    def __init__(self) -> None:
        self._turn = threading.Lock()
        self._pipe: Connection | None = None
        self._process: SpawnProcess | None = None
        self._begun = self._ready = False
        self._asked = self._answered = 0
        self._asked_at = self._rests_until = 0.0
        #: What was answered last; None where it could not be worked out there.
        self._shares: list[Triple] | None = None
        self._texts = Remembered[bytes](_MOST_RECORDS)

    def __call__(self, questions: Sequence[Question]) -> Callable[[], list[Triple]] | None:
        """Have the shares of questions worked out; what gives them, or None where that has to be done here.

        Parameters
        ----------
        questions : sequence of Question
            Each with every figure that a sample needs.

        Returns
        -------
        callable
            Gives the shares of the outcomes of each once they are there, as `glass_on_metal.shares_of_questions` does.
        """
        if not self._turn.acquire(blocking=False):
            return None
        try:
            number, began = self._send(questions), time.monotonic()
        finally:
            self._turn.release()
        return None if number is None else lambda: self._received(number, began, questions)

    def close(self) -> None:
        """End the second process, which holds nothing that could be lost; it is not begun again."""
        self._begun = True
        pipe, process, self._pipe, self._process = self._pipe, self._process, None, None
        if pipe is not None and process is not None:
            pipe.close()
            process.kill()
            process.join()

    def _send(self, questions: Sequence[Question]) -> int | None:
        if not self._begun:
            self._begin()
        # Another thread may close it meanwhile; then the pipe says so.
        pipe = self._pipe
        if pipe is None:
            return None
        try:
            while pipe.poll():
                self._take_in(pipe)
            now, owed = time.monotonic(), self._asked - self._answered
            if owed and now - self._asked_at > _LONGEST_S:
                raise EOFError
            if not self._ready or owed >= _MOST_OWED or now < self._rests_until:
                return None
            self._asked, self._asked_at = self._asked + 1, now
            parts = [(self._text(q.glass), self._text(q.metal), q.build) for q in questions]
            pipe.send_bytes(pickle.dumps((self._asked, parts)))
        except (OSError, EOFError):
            self.close()
            return None
        return self._asked

    def _begin(self) -> None:
        self._begun = True
        context = multiprocessing.get_context("spawn")
        ours, theirs = context.Pipe()
        try:
            # It must not outlive this process, whose end of the pipe closes with it however it ends.
            process = context.Process(target=_work, args=(theirs,), name="refdb-aside", daemon=True)
            process.start()
        except OSError:
            ours.close()
        else:
            self._pipe, self._process = ours, process
        finally:
            theirs.close()

    def _text(self, record: object) -> bytes:
        return self._texts.of((record,), lambda: pickle.dumps(record))

    def _take_in(self, pipe: Connection) -> None:
        told = pipe.recv()
        if told is None:
            self._ready = True
            return
        self._answered, self._shares = told

    def _received(self, number: int, began: float, questions: Sequence[Question]) -> list[Triple]:
        with self._turn:
            pipe = self._pipe
            now = time.monotonic()
            until = now + max(now - began, _WAITED_S)
            try:
                while pipe is not None and self._answered < number:
                    if not pipe.poll(max(until - time.monotonic(), 0.0)):
                        self._rests_until = time.monotonic() + _REST_S
                        break
                    self._take_in(pipe)
            except (OSError, EOFError):
                self.close()
            shares = self._shares if self._answered == number else None
        if shares is None:
            from refdb.judge.fit.glass_on_metal import shares_of_questions

            return shares_of_questions(questions)
        return shares


def _work(pipe: Connection) -> None:
    """The second process: it answers until the first one's end of the pipe is closed."""
    # Ctrl-C reaches every process of the terminal; the pipe says when to end.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    from refdb.judge.fit.glass_on_metal import shares_of_questions
    from refdb.judge.fit.question import Question

    # One record as often as it is asked about, so that what was drawn of it is remembered.
    record: Callable[[bytes], Any] = lru_cache(_MOST_RECORDS)(pickle.loads)
    try:
        shares_of_questions([])
        with steady():
            pipe.send(None)
            while True:
                number, parts = pickle.loads(pipe.recv_bytes())
                # Whatever goes wrong: whoever asked works it out again, and tells it.
                try:
                    shares = shares_of_questions([Question(record(g), record(m), build) for g, m, build in parts])
                except Exception:
                    shares = None
                pipe.send((number, shares))
    except (EOFError, OSError):
        return
