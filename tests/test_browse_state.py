"""What a view holds belongs to that view alone, and goes when it goes."""

from __future__ import annotations

import gc
import threading
import weakref

from browse_client import Asking

from refdb.browse.plugin import site_of
from refdb.browse.server.application import build
from refdb.browse.server.cached_reference import MOST_ANSWERS, Answers


def test_two_views_share_nothing(store, tmp_path):
    one, other = build(store, sql=True), build(store, workshop=tmp_path / "shop.db", local=False)
    sites = site_of(one), site_of(other)
    assert sites[0] is not sites[1]
    assert [(s.sql, s.local, s.watch is None) for s in sites] == [(True, True, True), (False, False, False)]
    assert sites[0].worker is not sites[1].worker


def test_a_datasette_of_someone_else_is_left_alone():
    from datasette.app import Datasette

    assert site_of(Datasette(memory=True)) is None


def test_a_view_that_is_done_with_is_forgotten_with_its_pages(store):
    asking = Asking(store)
    assert asking.get("/materials").status == 200
    held = weakref.ref(asking.application.refdb_site)
    asking.close()
    del asking
    gc.collect()
    assert held() is None


def test_answers_are_bounded_and_may_be_put_by_many_threads():
    answers, failures = Answers(), []

    def work(first):
        try:
            for n in range(2 * MOST_ANSWERS):
                assert answers.put((first, n), "x") == "x"
                answers.get((1 - first, n))
        except BaseException as error:
            failures.append(error)

    threads = [threading.Thread(target=work, args=(n,)) for n in (0, 1)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    assert len(answers) == MOST_ANSWERS
