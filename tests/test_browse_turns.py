"""Calculations of the view: one at a time and in their order, the next while one waits for what works elsewhere."""

from __future__ import annotations

import asyncio
import threading
import time

import pytest

from refdb.browse import views
from refdb.browse.server.application import build, second_process
from refdb.browse.server.query import Busy
from refdb.browse.server.turns import Turns

PATIENCE_S = 20.0


@pytest.fixture
def turns():
    with Turns() as found:
        yield found


def test_one_at_a_time_and_in_order(turns):
    told, at_work = [], []

    def work(n):
        at_work.append(n)
        time.sleep(0.01)
        told.append((n, list(at_work)))
        at_work.remove(n)
        return n * n

    assert [f.result(PATIENCE_S) for f in [turns.submit(work, n) for n in range(8)]] == [n * n for n in range(8)]
    assert told == [(n, [n]) for n in range(8)]


def test_the_next_begins_while_one_has_let_go_and_the_one_goes_on_first(turns):
    told, other_began, answer, waits = [], threading.Event(), threading.Event(), threading.Event()

    def one():
        told.append("one begins")
        with turns.let_go():
            waits.set()
            assert answer.wait(PATIENCE_S)
        told.append("one goes on")

    def other():
        told.append("other begins")
        other_began.set()
        answer.set()
        # The first now wants its turn back, and has to wait for the end of this.
        time.sleep(0.05)
        told.append("other ends")

    asked = [turns.submit(one)]
    assert waits.wait(PATIENCE_S)
    asked += [turns.submit(other), turns.submit(told.append, "third")]
    for one_of_them in asked:
        one_of_them.result(PATIENCE_S)
    assert other_began.is_set()
    assert told == ["one begins", "other begins", "other ends", "one goes on", "third"]


def test_a_turn_is_given_back_whatever_happens(turns):
    def fails():
        with turns.let_go():
            raise KeyError("there")

    with pytest.raises(KeyError):
        turns.submit(fails).result(PATIENCE_S)
    assert turns.submit(lambda: 7).result(PATIENCE_S) == 7
    # Who has no turn has none to let go.
    with turns.let_go():
        assert turns.submit(lambda: 8).result(PATIENCE_S) == 8


def test_one_whose_asker_goes_while_it_waits_for_its_turn_is_not_begun(store):
    site, go, done = build(store).refdb_site, threading.Event(), []

    async def asked():
        left = asyncio.Event()

        async def stays():
            await asyncio.Event().wait()

        async def leaves():
            await left.wait()
            return {"type": "http.disconnect"}

        first = asyncio.ensure_future(views._worked_out(site, lambda: go.wait(PATIENCE_S), stays))
        second = asyncio.ensure_future(views._worked_out(site, lambda: done.append(2), leaves))
        until = time.monotonic() + PATIENCE_S
        while not site.worker._waiting and time.monotonic() < until:
            await asyncio.sleep(0.01)
        left.set()
        await asyncio.sleep(0.05)
        go.set()
        assert await first
        with pytest.raises(Busy, match="gone"):
            await second

    asyncio.run(asked())
    # Behind whatever may still be under way.
    assert site.worker.submit(lambda: 7).result(PATIENCE_S) == 7
    assert (done, site.waiting) == ([], 0)


def test_the_second_process_takes_all_of_a_sample_while_more_than_one_waits(store):
    site = build(store).refdb_site
    aside, told = second_process(site), []
    for site.waiting in (0, 1, 2, 3):
        told.append(aside.takes_all)
    assert told == [False, False, True, True]
    with aside._let_go():
        assert site.worker.submit(lambda: 7).result(PATIENCE_S) == 7
    assert aside._let_go == site.worker.let_go
