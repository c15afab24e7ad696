"""Arrays kept on disk never change an answer, and nothing that happens to their files is an error."""

import multiprocessing
import os
import stat
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from alloysolve import kept as store
from alloysolve.alloys.bodies import joined_bodies
from alloysolve.alloys.claimed_regions import Region, region_bodies
from alloysolve.alloys.elastic import elasticity_of_bodies
from alloysolve.alloys.families import TABLES_OF_BODIES, all_bodies, family_bodies
from alloysolve.alloys.law import TABLES_OF_LAW, law_with, mixing_law
from alloysolve.kept import kept
from alloysolve.published.load import Tables, digest
from tests.independent.accuracy import LeftOut

MADE: dict[str, np.ndarray] = {
    "some": np.array([[1.5, -2.0], [0.0, 3.25], [1e-300, 4.0]]),
    "odd": np.array([True, False, True]),
    "names": np.array(["Cu Zn", "", "café"]),
    "none": np.zeros((0, 3)),
    "one": np.array(7, dtype=np.int8),
}


@pytest.fixture(autouse=True)
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("ALLOYSOLVE_CACHE", str(tmp_path / "kept"))
    return tmp_path / "kept"


def made(times):
    """A builder that counts how often it was called."""

    def build():
        times.append(1)
        return MADE

    return build


def same(found):
    assert list(found) == list(MADE)
    for name, array in MADE.items():
        assert found[name].dtype == array.dtype
        assert found[name].shape == array.shape
        assert found[name].tobytes() == array.tobytes()
    return True


def test_what_was_built_once_is_read_again(folder):
    times = []
    assert same(kept("x", "a", (), made(times)))
    assert same(kept("x", "a", (), made(times)))
    assert len(times) == 1
    assert [f.name[:2] for f in folder.iterdir()] == ["x-"]


def test_nothing_kept_can_be_written_to(folder):
    for _ in ("built", "read"):
        for array in kept("x", "a", (), made([])).values():
            assert not array.flags.writeable


@pytest.mark.parametrize(
    "change",
    [
        lambda patch: None,
        lambda patch: patch.setattr(np, "__version__", "0.0"),
        lambda patch: patch.setattr(store, "FORMAT", store.FORMAT + 1),
        lambda patch: patch.setattr(store, "_code", lambda *rooms: "other"),
    ],
    ids=["what it is made from", "numpy", "format", "code"],
)
def test_another_key_is_built_anew(change, monkeypatch):
    times = []
    kept("x", "a", (), made(times))
    change(monkeypatch)
    kept("x", "b", (), made(times))
    assert len(times) == 2


def test_the_code_of_a_room_counts(tmp_path, monkeypatch):
    (tmp_path / "alloys").mkdir()
    monkeypatch.setattr(store, "__file__", str(tmp_path / "kept.py"))
    seen = set()
    for file in ("kept.py", "alloys/law.py", "alloys/law.py"):
        (tmp_path / file).write_text(f"line {len(seen)}")
        store._code.cache_clear()
        seen.add(store._code("alloys"))
    store._code.cache_clear()
    assert len(seen) == 3


def test_off_writes_nothing(folder, monkeypatch):
    monkeypatch.setenv("ALLOYSOLVE_CACHE", "off")
    times = []
    assert same(kept("x", "a", (), made(times)))
    assert same(kept("x", "a", (), made(times)))
    assert len(times) == 2
    assert not folder.exists()


def test_without_a_name_the_folder_is_the_users(tmp_path, monkeypatch):
    monkeypatch.delenv("ALLOYSOLVE_CACHE")
    monkeypatch.setattr("platformdirs.user_cache_path", lambda name, appauthor: tmp_path / name)
    kept("x", "a", (), made([]))
    assert len(list((tmp_path / "alloysolve").iterdir())) == 1


def damage(content, at, new):
    return content[:at] + new + content[at + len(new) :]


@pytest.mark.parametrize(
    "change",
    [
        lambda c: b"",
        lambda c: c[: len(c) // 2],
        lambda c: c[:-64],
        lambda c: b"\xff" * len(c),
        lambda c: damage(c, 70, b"?"),
        lambda c: damage(c, c.index(b"some"), b"more"),
        lambda c: damage(c, c.index(b"\n") + 1 + 5, b"\x01"),
        lambda c: damage(c, c.index(b"\n") + 1 + 64, b"\x00"),
    ],
    ids=["empty", "half", "end missing", "no text", "first line", "name", "number", "flag"],
)
def test_a_damaged_file_is_built_anew_and_replaced(folder, change):
    times = []
    kept("x", "a", (), made(times))
    (file,) = folder.iterdir()
    whole = file.read_bytes()
    file.write_bytes(change(whole))
    assert same(kept("x", "a", (), made(times)))
    assert len(times) == 2
    assert file.read_bytes() == whole


@pytest.mark.parametrize("change", [lambda f: f.write_text("a file"), lambda f: f.mkdir(mode=0o500)])
def test_a_folder_that_cannot_be_written_to_is_no_error(folder, change, monkeypatch):
    change(folder)
    if os.access(folder, os.W_OK) and folder.is_dir():  # the superuser may write anywhere
        monkeypatch.setattr("tempfile.mkstemp", lambda **_: (_ for _ in ()).throw(PermissionError()))
    times = []
    assert same(kept("x", "a", (), made(times)))
    assert same(kept("x", "a", (), made(times)))
    assert len(times) == 2


def test_a_file_that_cannot_be_touched_is_read_all_the_same(folder, monkeypatch):
    times = []
    kept("x", "a", (), made(times))
    monkeypatch.setattr(os, "utime", lambda file: (_ for _ in ()).throw(PermissionError()))
    assert same(kept("x", "a", (), made(times)))
    assert len(times) == 1


def test_an_interrupted_write_leaves_nothing(folder, monkeypatch):
    monkeypatch.setattr(os, "replace", lambda *_: (_ for _ in ()).throw(KeyboardInterrupt()))
    with pytest.raises(KeyboardInterrupt):
        kept("x", "a", (), made([]))
    assert not list(folder.iterdir())


def test_files_that_were_not_used_for_longest_are_deleted(folder, monkeypatch):
    for key in "abc":
        kept("x", key, (), made([]))
    (folder / "mine.txt").write_text("not ours")
    size = kept_file(folder, "a").stat().st_size
    for age, key in enumerate("bca"):  # b was used longest ago
        file = kept_file(folder, key)
        os.utime(file, (1000.0 + age, 1000.0 + age))
    kept("x", "b", (), made([]))  # reading it counts as use
    monkeypatch.setattr(store, "MOST_BYTES", 3 * size)
    kept("x", "d", (), made([]))
    assert [kept_file(folder, key).exists() for key in "abcd"] == [True, True, False, True]
    assert (folder / "mine.txt").exists()


def kept_file(folder, key):
    """Where the arrays of a key are kept: the one file that changes when they are read."""
    seen = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(store, "_read", lambda file: seen.append(file) or MADE)
        kept("x", key, (), made([]))
    assert seen[0].parent == folder
    return seen[0]


def _write_often(folder: str, number: int) -> bool:
    os.environ["ALLOYSOLVE_CACHE"] = folder
    ok = True
    for round_ in range(10):
        ok &= same(kept("x", str(round_), (), lambda: MADE))
        if number == 0:
            for file in Path(folder).glob("*.arrays"):
                file.unlink(missing_ok=True)
    return ok


def test_many_processes_share_a_folder(folder):
    with multiprocessing.get_context("fork" if sys.platform == "linux" else "spawn").Pool(4) as pool:
        assert all(pool.starmap(_write_often, [(str(folder), n) for n in range(12)]))
    for file in folder.glob("*.arrays"):
        assert same(store._read(file))
        assert stat.S_ISREG(file.stat().st_mode)


def columns(of):
    return {name: getattr(of, name) for name in of.__dataclass_fields__ if name not in ("law", "parts")}


def test_bodies_and_law_are_the_same_from_disk_and_built():
    built = law_with(Tables(), Tables().rows("pairs")), family_bodies(Tables())
    for _ in ("built", "read"):
        fresh = Tables()
        for found, expected in zip((mixing_law(fresh), all_bodies(fresh)), built, strict=True):
            for name, value in columns(expected).items():
                if isinstance(value, np.ndarray):
                    assert getattr(found, name).tobytes() == value.tobytes(), name
                else:
                    assert getattr(found, name) == value, name
    assert all_bodies(fresh).law is mixing_law(fresh)


def test_moduli_of_joined_bodies_are_those_of_their_parts():
    tables = Tables()
    own = region_bodies(tables, [Region("mine", {"Ag": (70.0, 99.0), "Cu": (1.0, 30.0)}, 0.3)])
    joined = joined_bodies([all_bodies(tables), own])
    found, whole = (elasticity_of_bodies(tables, b) for b in (joined, replace(joined, parts=())))
    for name, values in vars(whole).items():
        assert getattr(found, name) == pytest.approx(values, rel=1e-12)
    assert joined.main.tolist() == replace(joined, parts=()).main.tolist()


def test_a_changed_table_is_another_file(folder, tmp_path):
    own = tmp_path / "grades.csv"
    header, *_, row = (Path(Tables().files("grades")[0])).read_text(encoding="utf-8").splitlines()
    own.write_text(f"{header}\nmine,{row.partition(',')[2]}\n", encoding="utf-8")
    assert "mine" not in all_bodies(Tables()).grades
    assert "mine" in all_bodies(Tables([own])).grades
    assert "mine" not in all_bodies(Tables()).grades


@pytest.mark.parametrize(
    ("build", "named"),
    [
        (lambda t: law_with(t, t.rows("pairs")), TABLES_OF_LAW),
        (lambda t: family_bodies(t), TABLES_OF_BODIES),
        (lambda t: elasticity_of_bodies(t, all_bodies(t)), (*TABLES_OF_BODIES, "elastic")),
    ],
    ids=["law", "bodies", "elastic"],
)
def test_the_key_counts_every_table_that_is_read(build, named, monkeypatch):
    class Anew(Tables):
        """Shipped tables that are not taken for those of which everything is made already."""

    monkeypatch.setenv("ALLOYSOLVE_CACHE", "off")
    tables = Anew()
    build(tables)
    assert set(tables._rows) == set(named)


def test_rows_and_hash_are_of_the_same_bytes(tmp_path):
    """Tables that were opened keep what they read, also if a file is edited meanwhile."""
    own = tmp_path / "times.csv"
    own.write_bytes(Tables().files("times")[0].read_bytes())
    tables = Tables([own])
    rows, before = tables.rows("times"), digest(tables, ["times"])
    own.write_text("damaged", encoding="utf-8")
    assert (tables.rows("times"), digest(tables, ["times"])) == (rows, before)


def test_tables_with_other_rows_than_their_files_are_not_taken_for_these():
    """Bodies of the shipped tables must not be those of tables from which a composition was left out."""
    brass = Tables().grades["cartridge brass 70/30"]
    left = LeftOut(brass.composition)
    assert digest(left, ["grades"]) != digest(Tables(), ["grades"])
    assert brass.name in all_bodies(Tables()).grades
    assert brass.name not in all_bodies(left).grades

    class Fewer(Tables):
        def rows(self, name):
            return super().rows(name)[1:]

    with pytest.raises(TypeError, match="Fewer changes rows"):
        digest(Fewer(), ["grades"])
