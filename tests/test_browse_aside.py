"""The second process of the view: it gives what the first would find, and its end is nobody's trouble."""

from __future__ import annotations

import os
import signal
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager

import pytest
from child_processes import children_of, gone
from test_browse_server import browsing, free_port
from test_browse_workers import page

import refdb
from refdb.browse.server import aside as module
from refdb.browse.server.aside import Aside
from refdb.frozen import replace
from refdb.judge.fit.glass_on_metal import judge_beside, sampled_questions
from refdb.judge.fit.question import given

ASKED = "suits?glass=clear-hard-lead-free&metal=copper-sheet&metal_thickness={:g}mm"


@pytest.fixture(scope="module")
def questions(store):
    with refdb.open_reference(store) as ref:
        pairs = [("clear-hard-lead-free", "copper-sheet"), ("opal-leaded", "fine-silver-sheet")]
        return [given(ref, *pair, metal_thickness_m=f"{mm} mm") for pair in pairs for mm in (0.41, 0.93)]


@pytest.fixture
def aside(questions, monkeypatch):
    # Nothing goes on beside it here, and the machine may be busy.
    monkeypatch.setattr(module, "_WAITED_S", 30.0)
    one = Aside()
    until = time.monotonic() + 60
    while (found := one([], questions)) is None and time.monotonic() < until:
        time.sleep(0.02)
    assert found is not None
    found()
    yield one
    one.close()


def ended(one):
    return one._pipe is None and one([], []) is None


def test_it_gives_what_is_found_here_however_often(aside, questions):
    _, here = sampled_questions([], questions)
    assert len(set(here)) > 1
    for _ in range(3):
        assert aside([], questions)() == ([], here)
    assert aside([], questions[1:2])() == ([], here[1:2])


def test_an_answer_that_nobody_fetched_is_not_taken_for_the_next(aside, questions):
    _, here = sampled_questions([], questions)
    aside([], questions[:1])
    for k in range(4):
        later = aside([], questions[k : k + 1])
        assert later is None or later() == ([], here[k : k + 1])


def test_who_asks_while_another_waits_works_it_out_alone(aside, questions):
    with aside._turn:
        assert aside([], questions) is None


def test_what_goes_wrong_there_is_worked_out_and_told_here(aside, questions):
    found = aside([], [replace(questions[0], metal=questions[0].glass)])
    with pytest.raises(AttributeError):
        found()
    assert aside([], questions)() == sampled_questions([], questions)


@pytest.mark.skipif(sys.platform == "win32", reason="its processes cannot be held")
def test_the_end_of_the_process_costs_nobody_his_answer(aside, questions):
    child = aside._process.pid
    os.kill(child, signal.SIGKILL)
    found = aside([], questions)
    assert found is None or found() == sampled_questions([], questions)
    # Whoever waits for it is told, and need not run out of patience.
    assert aside._rests_until == 0.0
    assert ended(aside)
    assert gone([child])


@pytest.mark.skipif(sys.platform == "win32", reason="its processes cannot be held")
def test_one_that_is_slow_is_waited_for_in_vain_once_and_ended_when_it_stays_silent(aside, questions, monkeypatch):
    child = aside._process.pid
    os.kill(child, signal.SIGSTOP)
    monkeypatch.setattr(module, "_WAITED_S", 0.1)
    found = aside([], questions)
    assert found() == sampled_questions([], questions)
    assert aside([], questions) is None
    os.kill(child, signal.SIGCONT)
    monkeypatch.setattr(module, "_WAITED_S", 30.0)
    until = time.monotonic() + 30
    while (found := aside([], questions)) is None and time.monotonic() < until:
        time.sleep(0.02)
    # It has said late what nobody waits for any more, and is asked again.
    assert found() == sampled_questions([], questions)
    os.kill(child, signal.SIGSTOP)
    monkeypatch.setattr(module, "_WAITED_S", 0.1)
    assert aside([], questions)() == sampled_questions([], questions)
    monkeypatch.setattr(module, "_LONGEST_S", 0.0)
    assert aside([], questions) is None
    assert ended(aside)
    assert gone([child])


def test_a_verdict_has_the_same_neighbours_with_it_and_without(aside, store, questions):
    with refdb.open_reference(store) as ref:
        for asked, others in ((questions[0], questions[1:2]), (questions[3], questions[2:3])):
            (verdict, found), (here, found_here) = (
                judge_beside(ref, asked, others, elsewhere) for elsewhere in (aside, None)
            )
            assert (verdict, found()) == (here, found_here())


@pytest.mark.skipif(not os.path.isdir("/proc/self"), reason="tells processes by /proc")
@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGKILL])
def test_a_view_takes_it_with_the_first_calculation_and_leaves_none_behind(store, how):
    with browsing(store, "--port", str(free_port())) as (process, address):
        assert not children_of(process.pid)
        first = page(address + ASKED.format(0.77))
        wanted = 1 if (os.cpu_count() or 1) > 1 else 0
        until = time.monotonic() + 60
        while len(helpers := children_of(process.pid)) < wanted and time.monotonic() < until:
            time.sleep(0.05)
        assert len(helpers) == wanted
        again = page(address + ASKED.format(0.770001))
        assert first.count("0.8 mm") == again.count("0.8 mm")
        process.send_signal(how)
        process.wait(20)
        assert gone(helpers)


def test_it_takes_whole_samples_too_and_two_who_wait_each_get_their_own(aside, questions):
    here = [sampled_questions(questions[k : k + 1], questions[2:]) for k in range(2)]
    assert here[0][0] != here[1][0]
    waits = [aside(questions[k : k + 1], questions[2:]) for k in range(2)]
    assert [found() for found in reversed(waits)] == list(reversed(here))


def test_a_verdict_sampled_there_is_the_same(aside, store, questions, monkeypatch):
    with refdb.open_reference(store) as ref:
        here, near = judge_beside(ref, questions[0], questions[1:2])
        monkeypatch.setattr(aside, "_crowded", lambda: True)
        sent = []

        def elsewhere(*asked):
            sent.append(asked)
            return aside(*asked)

        elsewhere.takes_all = aside.takes_all
        there, near_there = judge_beside(ref, questions[0], questions[1:2], elsewhere)
    assert sent == [(questions[:1], questions[1:2])]
    assert (there, near_there()) == (here, near())


def test_only_who_waits_for_a_whole_sample_lets_others_begin(aside, questions, monkeypatch):
    let_go = []

    @contextmanager
    def noted():
        let_go.append("begin")
        yield
        let_go.append("end")

    monkeypatch.setattr(aside, "_let_go", noted)
    aside([], questions)()
    assert not let_go
    aside(questions[:1], questions[1:])()
    assert let_go == ["begin", "end"]


@pytest.mark.skipif(sys.platform == "win32", reason="its processes cannot be held")
def test_who_waits_in_vain_again_and_again_lets_it_rest_longer_each_time(aside, questions, monkeypatch):
    monkeypatch.setattr(module, "_WAITED_FOR_ALL_S", 0.01)
    child, rests = aside._process.pid, []
    for _ in range(3):
        os.kill(child, signal.SIGSTOP)
        aside._rests_until = 0.0
        aside(questions[:1], [])()
        rests.append(aside._rests_until - time.monotonic())
        os.kill(child, signal.SIGCONT)
        until = time.monotonic() + 30
        while aside._owed and time.monotonic() < until:
            time.sleep(0.01)
    # What was worked out here after the wait is part of each rest.
    assert rests[0] < rests[1] < rests[2] <= 4 * module._REST_S
    monkeypatch.setattr(module, "_WAITED_FOR_ALL_S", 30.0)
    aside._rests_until = 0.0
    aside(questions[:1], [])()
    assert aside._rest_s == module._REST_S


def test_pages_that_many_ask_for_at_once_are_those_that_one_asks_for_in_turn(store):
    builds = [
        f"&metal_thickness={0.7 + n / 100:g}mm&back={back}mm&shape={shape}"
        for n in range(3)
        for back, shape in (("0", "flat"), ("0.2", "domed"))
    ]
    asked = [
        f"suits?glass={glass}&metal=copper-sheet{b}"
        for glass in ("opal-leaded", "black-opaque-lead-free")
        for b in builds
    ]
    with browsing(store, "--port", str(free_port())) as (_, address), ThreadPoolExecutor(6) as askers:
        at_once = list(askers.map(lambda one: page(address + one), asked))
    with browsing(store, "--port", str(free_port())) as (_, address):
        assert [page(address + one) for one in asked] == at_once
