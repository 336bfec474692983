"""The fingerprint beside a store: any bit that changed since the build is found, and a store without one is told so."""

from __future__ import annotations

import json
import random
import shutil
import sqlite3
import tomllib
from contextlib import closing
from pathlib import Path

import pytest
from conftest import ROOT

from refdb.curate.build import build
from refdb.curate.seal import is_as_built
from refdb.errors import StoreUnusable
from refdb.store.edition import SUFFIX, Seal, edition_of, kept_seal, seal_path
from refdb.store.reference import default_path


@pytest.fixture
def own(store: Path, tmp_path: Path) -> Path:
    """A copy of the store with its fingerprint, to spoil."""
    for name in (store, seal_path(store)):
        shutil.copyfile(name, tmp_path / name.name)
    return tmp_path / store.name


def one_line(ran, *words: str) -> None:
    assert (ran.status, ran.out) == (4, "")
    assert ran.err.startswith("refdb: ")
    assert ran.err.count("\n") == 1
    assert "Traceback" not in ran.err
    for word in words:
        assert word in ran.err


def test_the_edition_is_the_latest_source_and_the_kept_fingerprint(refdb, own):
    with closing(sqlite3.connect(own)) as database:
        day = database.execute("SELECT retrieved FROM sources ORDER BY retrieved DESC").fetchone()[0]
    mark = json.loads(refdb("verify", str(own), "--json").out)["fingerprint"]
    assert (edition_of(own).day, edition_of(own).fingerprint) == (day, mark)
    ran = refdb("--version", on=own)
    assert (ran.status, ran.err) == (0, "")
    assert ran.out.splitlines()[1:] == [f"data of {day}", f"fingerprint {mark}"]
    seal_path(own).unlink()
    assert edition_of(own).fingerprint is None
    assert refdb("--version", on=own).out == ran.out


def test_the_version_tells_the_data_as_they_are_not_as_they_were_built(refdb, own):
    before = refdb("--version", on=own).out.splitlines()
    with closing(sqlite3.connect(own)) as database, database:
        database.execute("UPDATE materials SET label = label || '!' WHERE key = 'copper-sheet'")
    after = refdb("--version", on=own).out.splitlines()
    assert after[:2] == before[:2]
    assert after[2] != before[2]


def test_the_version_of_the_code_is_told_without_a_store(refdb, tmp_path):
    ran = refdb("--version", on=tmp_path / "gone.db")
    assert ran.status == 4
    assert ran.out.startswith("refdb ")
    assert ran.out.count("\n") == ran.err.count("\n") == 1


def places(size: int) -> list[tuple[int, int]]:
    """Byte and bit: both ends of the file, of its header and of its first page, and 44 by lot over all of it."""
    lot = random.Random(20)
    edges = [0, 15, 18, 24, 27, 28, 43, 60, 68, 92, 96, 99, 100, 4095, 4096, size - 1]
    return [(at, lot.randrange(8)) for at in edges + [lot.randrange(size) for _ in range(44)]]


def test_any_flipped_bit_is_found(refdb, own):
    whole = own.read_bytes()
    assert refdb("verify", str(own)).status == 0
    with own.open("r+b") as file:
        for at, bit in places(len(whole)):
            for value in (whole[at] ^ (1 << bit), whole[at]):
                file.seek(at)
                file.write(bytes([value]))
                file.flush()
                ran = refdb("verify", str(own))
                if value == whole[at]:
                    break
                one_line(ran, own.name, "not as it was built")
    assert own.read_bytes() == whole
    assert refdb("verify", str(own)).status == 0


def test_the_named_store_is_held_to_its_own(refdb, own):
    assert "as it was built" in refdb("verify", on=own).out
    own.write_bytes(own.read_bytes() + b"\0")
    one_line(refdb("verify", on=own), "not as it was built", "its rows are the same")
    one_line(refdb("verify", "--json", on=own), "not as it was built")
    own.write_bytes(own.read_bytes()[:-5000])
    one_line(refdb("verify", on=own), "not as it was built")


def test_a_changed_figure_is_told_from_changed_bytes(refdb, own):
    with closing(sqlite3.connect(own)) as database, database:
        database.execute("UPDATE materials SET summary = summary || ' Safe.' WHERE key = 'opal-leaded'")
    one_line(refdb("verify", str(own)), "what its rows say has changed")
    with closing(sqlite3.connect(own)) as database, database:
        database.execute("UPDATE materials SET summary = replace(summary, ' Safe.', '')")
    one_line(refdb("verify", str(own)), "its rows are the same")


def test_a_store_without_a_fingerprint_is_told_so(refdb, own):
    assert json.loads(refdb("verify", str(own), "--json").out)["as_built"] is True
    seal_path(own).unlink()
    ran = refdb("verify", str(own))
    assert (ran.status, ran.err) == (0, "")
    assert "no fingerprint to compare with" in ran.out
    assert "as it was built" not in ran.out
    assert json.loads(refdb("verify", str(own), "--json").out)["as_built"] is None
    assert is_as_built(own) is False


@pytest.mark.parametrize(
    "text", [b"", b"nothing", b"0" * 64, b"\xff" * 10_000, b"0" * 64 + b"  reference.db\n# rows 12\n"]
)
def test_a_spoilt_fingerprint_is_one_line(refdb, own, text):
    seal_path(own).write_bytes(text)
    one_line(refdb("verify", str(own)), SUFFIX, "no fingerprint of a store")


def test_another_digit_in_the_fingerprint_never_passes_for_sound(refdb, own):
    whole = seal_path(own).read_bytes()
    hexadecimal = [*range(64), *range(len(whole) - 65, len(whole) - 1)]
    for at in random.Random(4).sample(hexadecimal, 12):
        seal_path(own).write_bytes(whole[:at] + (b"1" if whole[at] == ord("0") else b"0") + whole[at + 1 :])
        if at < 64:
            one_line(refdb("verify", str(own)))
        else:
            # The bytes of the store are as they were built, which alone decides.
            assert kept_seal(own).of_bytes == whole[:64].decode()


def test_a_fingerprint_that_is_a_folder_is_one_line(refdb, own):
    seal_path(own).unlink()
    seal_path(own).mkdir()
    one_line(refdb("verify", str(own)), "cannot be read")


def test_every_build_renews_it(refdb, tmp_path):
    import small_sources

    sources, target = small_sources.write(tmp_path / "sources"), tmp_path / "own.db"
    for amount in ("110", "111"):
        small_sources.write(sources, small_sources.changed("property_values.csv", 0, value=amount))
        assert refdb("build", "--from", str(sources), "--to", str(target)).status == 0
        assert is_as_built(target)
        assert "as it was built" in refdb("verify", str(target)).out
    (tmp_path / "link.db").symlink_to(target)
    assert is_as_built(tmp_path / "link.db")


def test_a_fingerprint_that_cannot_be_written_leaves_no_old_one_behind(tmp_path, monkeypatch):
    import small_sources

    from refdb.curate import build as building

    sources, target = small_sources.write(tmp_path / "sources"), tmp_path / "own.db"
    build(sources, target)
    small_sources.write(sources, small_sources.changed("property_values.csv", 0, value="111"))

    def fails(*_: object) -> str:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Seal, "text", fails)
    with pytest.raises(StoreUnusable):
        build(sources, target)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["own.db", "sources"]
    assert building.fingerprint(target)


def test_the_wheel_carries_the_store_and_its_fingerprint(monkeypatch):
    """The names that the package is told to carry are those that the build writes and a look-up opens."""
    monkeypatch.delenv("REFDB_STORE", raising=False)
    wheel = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["hatch"]["build"]["targets"]["wheel"]
    shipped = Path("refdb") / default_path().name
    assert set(wheel["artifacts"]) == {shipped.as_posix(), seal_path(shipped).as_posix()}
