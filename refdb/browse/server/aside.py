"""A second process, which works out what stands beside a verdict while the first works out the verdict itself.

Where more is asked of the first meanwhile, the second takes the whole sample of a verdict, so that both are at work. It
knows no store and no workshop: it is handed the records that are asked about, and gives back numbers. Where it is not
there, busy, slow or broken, the first process works them out as well, so that nobody waits for it in vain.
"""

from __future__ import annotations

import multiprocessing
import pickle
import signal
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from contextlib import AbstractContextManager, nullcontext
from functools import lru_cache
from multiprocessing.connection import Connection
from typing import TYPE_CHECKING, Any, NamedTuple

from refdb.browse.server.steady import steady
from refdb.judge.remembered import Remembered

if TYPE_CHECKING:
    from multiprocessing.context import SpawnProcess

    from refdb.judge.fit.glass_on_metal import Sampled
    from refdb.judge.fit.question import Question

#: A process that owes an answer for longer is ended [s]; the usual one takes 10 ms.
_LONGEST_S = 5.0
#: An answer is waited for as long as the work took that went on beside it, and so long at the least [s].
_WAITED_S = 0.02
#: The whole sample of a verdict is waited for so long [s], with that of another before it.
_WAITED_FOR_ALL_S = 0.25
#: So long nothing is asked of a process that was waited for in vain [s], since others want the processors then: twice
#: as long each time in a row, and so long at the most.
_REST_S, _LONGEST_REST_S = 0.25, 16.0
#: So many answers may be owed, of which one was given up by whoever asked for it.
_MOST_OWED = 2
#: Records whose text is kept on either side, some 10 kB each.
_MOST_RECORDS = 64


class _Owed(NamedTuple):
    """An answer that is to come, None where it cannot be worked out there, and when it was asked for."""

    answer: Future[Sampled | None]
    asked_at: float


class Aside:
    """The way to the second process, for any thread; it is begun with the first question that could go there.

    Parameters
    ----------
    crowded : callable
        Whether more is asked than is being worked out, so that the second process is to take all it can.
    let_go : callable
        A context in which something else is worked out here.
    """

    def __init__(
        self,
        crowded: Callable[[], bool] = lambda: False,
        let_go: Callable[[], AbstractContextManager[None]] = nullcontext,
    ) -> None:
        self._crowded, self._let_go = crowded, let_go
        self._turn = threading.Lock()
        self._pipe: Connection | None = None
        self._process: SpawnProcess | None = None
        self._begun = False
        self._ready = threading.Event()
        self._asked, self._rests_until, self._rest_s = 0, 0.0, _REST_S
        #: By number.
        self._owed: dict[int, _Owed] = {}
        self._texts = Remembered[bytes](_MOST_RECORDS)

    @property
    def takes_all(self) -> bool:
        """Whether the whole sample of a verdict is to be worked out there, since others wait for their turn here."""
        return self._crowded()

    def __call__(self, whole: Sequence[Question], others: Sequence[Question], /) -> Callable[[], Sampled] | None:
        """Have questions sampled; what gives them, or None where that has to be done here.

        Parameters
        ----------
        whole, others : sequence of Question
            Each with every figure that a sample needs.

        Returns
        -------
        callable
            Gives what `glass_on_metal.sampled_questions` does of both, once it is there.
        """
        if not self._turn.acquire(blocking=False):
            return None
        try:
            owed = self._send(whole, others)
        finally:
            self._turn.release()
        return None if owed is None else lambda: self._received(owed, whole, others)

    def close(self) -> None:
        """End the second process, which holds nothing that could be lost; it is not begun again."""
        self._begun = True
        pipe, process, self._pipe, self._process = self._pipe, self._process, None, None
        if pipe is not None and process is not None:
            process.kill()
            process.join()

    def _send(self, whole: Sequence[Question], others: Sequence[Question]) -> _Owed | None:
        if not self._begun:
            self._begin()
        # Another thread may close it meanwhile; then the pipe says so.
        pipe, now = self._pipe, time.monotonic()
        if pipe is None:
            return None
        try:
            if any(now - one.asked_at > _LONGEST_S for one in list(self._owed.values())):
                raise EOFError
            if not self._ready.is_set() or len(self._owed) >= _MOST_OWED or now < self._rests_until:
                return None
            self._asked += 1
            owed = self._owed[self._asked] = _Owed(Future(), now)
            parts = [[(self._text(q.glass), self._text(q.metal), q.build) for q in some] for some in (whole, others)]
            pipe.send_bytes(pickle.dumps((self._asked, *parts)))
        except (OSError, EOFError):
            self.close()
            return None
        return owed

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
            threading.Thread(target=self._listen, args=(ours,), name="refdb-aside", daemon=True).start()
        finally:
            theirs.close()

    def _text(self, record: object) -> bytes:
        return self._texts.of((record,), lambda: pickle.dumps(record))

    def _listen(self, pipe: Connection) -> None:
        """Take in what the process says, until it ends or is ended; who still waits for it then waits in vain."""
        try:
            while True:
                told = pipe.recv()
                if told is None:
                    self._ready.set()
                    continue
                number, found = told
                self._owed.pop(number).answer.set_result(found)
        except (OSError, EOFError):
            self.close()
        finally:
            # Whoever sends at that moment must not write into what is opened in its place.
            with self._turn:
                pipe.close()
            for number in list(self._owed):
                self._owed.pop(number).answer.set_result(None)

    def _received(self, owed: _Owed, whole: Sequence[Question], others: Sequence[Question]) -> Sampled:
        """An answer that is owed, worked out here where it does not come in time."""
        # Where all is done there, something else may be done here; else what was done here meanwhile tells how long.
        longest = _WAITED_FOR_ALL_S if whole else max(time.monotonic() - owed.asked_at, _WAITED_S)
        found = None
        try:
            if owed.answer.done():
                found = owed.answer.result()
            else:
                with self._let_go() if whole else nullcontext():
                    found = owed.answer.result(longest)
            self._rest_s = _REST_S
        except TimeoutError:
            self._rests_until = time.monotonic() + self._rest_s
            self._rest_s = min(2 * self._rest_s, _LONGEST_REST_S)
        if found is None:
            from refdb.judge.fit.glass_on_metal import sampled_questions

            return sampled_questions(whole, others)
        return found


def _work(pipe: Connection) -> None:
    """The second process: it answers until the first one's end of the pipe is closed."""
    # Ctrl-C reaches every process of the terminal; the pipe says when to end.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    from refdb.judge.fit.glass_on_metal import sampled_questions
    from refdb.judge.fit.question import Question

    # One record as often as it is asked about, so that what was drawn of it is remembered.
    record: Callable[[bytes], Any] = lru_cache(_MOST_RECORDS)(pickle.loads)
    try:
        sampled_questions([], [])
        with steady():
            pipe.send(None)
            while True:
                number, *parts = pickle.loads(pipe.recv_bytes())
                # Whatever goes wrong: whoever asked works it out again, and tells it.
                try:
                    found = sampled_questions(
                        *([Question(record(g), record(m), b) for g, m, b in some] for some in parts)
                    )
                except Exception:
                    found = None
                pipe.send((number, found))
    except (EOFError, OSError):
        return
