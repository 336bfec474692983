"""The pool beside the workshop as the view sees it: learnt from anew whenever its rows have changed, never written."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from concurrent.futures import Executor, Future
from dataclasses import field
from pathlib import Path
from typing import TYPE_CHECKING

from refdb.errors import RefdbError
from refdb.frozen import dataclass
from refdb.store.pool.file import Pool, PoolFileRow
from refdb.store.pool.place import pool_path
from refdb.store.reference import Reference

if TYPE_CHECKING:
    from refdb.judge.own.pooling import ClassLearnt
    from refdb.records import PropertyValue


@dataclass(frozen=True)
class PoolSeen:
    """A pool at one moment: whether verdicts take it, its files, what it taught of each class, and what is wrong.

    `figures` are those of the classes that it taught enough of, by key; none where verdicts do not take it.
    """

    on: bool = False
    files: tuple[PoolFileRow, ...] = ()
    learnt: Mapping[str, ClassLearnt] = field(default_factory=dict)
    figures: Mapping[str, PropertyValue] = field(default_factory=dict)
    fault: str = ""
    mark: tuple[object, ...] = ()


NO_POOL = PoolSeen()


class PoolWatch:
    """Tells whether a pool has changed, at the cost of a look at its file, and learns from it.

    Parameters
    ----------
    store, workshop : Path
        The reference, and the workshop that the pool lies beside; it may come and go.
    always : bool, optional
        Whether verdicts take it; as the pool itself is set where None.
    """

    def __init__(self, store: Path, workshop: Path, always: bool | None) -> None:
        self.store, self.path, self.always = store, pool_path(workshop), always
        self._looked: tuple[int, ...] | None = None
        self._seen = NO_POOL

    def has_changed(self) -> bool:
        """Whether the file is another than when this was last asked."""
        if self.always is False:
            return False
        try:
            found = os.stat(self.path)
            now: tuple[int, ...] = (found.st_dev, found.st_ino, found.st_mtime_ns, found.st_size)
        except OSError:
            now = ()
        changed = now != (self._looked or ())
        self._looked = now
        return changed

    def learn(self) -> PoolSeen:
        """The pool as it is now; what was learnt before of the same rows is not worked out again."""
        self._seen = self._learnt()
        return self._seen

    def _learnt(self) -> PoolSeen:
        if not self.path.is_file():
            return NO_POOL
        try:
            with Pool(self.path) as pool:
                on = pool.used if self.always is None else self.always
                if not on:
                    return NO_POOL
                mark = (*pool.digests(), *((f.number, f.rows, f.counted) for f in pool.files()))
                if mark == self._seen.mark:
                    return self._seen
                files, rows = tuple(pool.files()), pool.counted()
            from refdb.judge.own.pooling import classes_learnt, figure_of

            # Its own figures are no belief before.
            with Reference(self.store) as ref:
                learnt = {one.glass.key: one for one in classes_learnt(ref, rows)}
        except RefdbError as fault:
            return PoolSeen(fault=fault.what)
        figures = {key: figure_of(one) for key, one in learnt.items() if one.taught}
        return PoolSeen(True, files, learnt, figures, mark=mark)


class LearntPool:
    """What a pool taught, kept while the view is open.

    Parameters
    ----------
    store : Path
    workshop : Path or None
        None where the person's own is not shown; a pool is not either then.
    always : bool, optional
        As for `PoolWatch`.
    worker : Executor
        Learns, one thing at a time; what is asked of it after waits until that is done.
    changed : callable
        Called once what was taught has changed.
    """

    def __init__(
        self, store: Path, workshop: Path | None, always: bool | None, worker: Executor, changed: Callable[[], None]
    ) -> None:
        self.seen = NO_POOL
        self._watch = None if workshop is None else PoolWatch(store, workshop, always)
        self._worker, self._changed = worker, changed
        self._times = 0
        self._under_way: Future[None] | None = None

    def look(self) -> int:
        """Have it learnt from anew if its file has changed; another number than before where no page holds any more."""
        if self._watch is not None and self._watch.has_changed():
            self._times += 1
            self._under_way = self._worker.submit(self._learn, self._watch)
        return self._times

    @property
    def is_learning(self) -> bool:
        """Whether that is still under way."""
        return self._under_way is not None and not self._under_way.done()

    def _learn(self, watch: PoolWatch) -> None:
        before, self.seen = self.seen, watch.learn()
        if self.seen is not before:
            self._changed()
            self._times += 1
