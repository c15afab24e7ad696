"""Records of pieces: none is lost, none is half there, and a damaged one stops nobody."""

from __future__ import annotations

import copy
import errno
import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from alloysolve.answer import records as module
from alloysolve.answer.records import (
    read_record,
    record_file,
    records_folder,
    save_record,
)
from alloysolve.answer.search import counts, days_of, records, this_day, this_week
from alloysolve.answer.solution import Solution, solve
from alloysolve.errors import InputError
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings, find_settings, write_settings
from alloysolve.version import VERSION

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def brass() -> Solution:
    return solve(
        Piece(claim="silver 999", mass="31.18 g", displaced="3.64 g", name="0117", note="one worn corner"), Settings()
    )


@pytest.fixture
def like(brass: Solution) -> Callable[..., dict[str, Any]]:
    """The document of the brass bar with some of its parts exchanged."""
    original = json.loads(brass.to_json())

    def changed(
        name: str = "0117",
        claim: str = "silver 999",
        decision: str | None = "contradicted",
        metals: tuple[str, ...] = ("Cu", "Zn"),
        **other: Any,
    ) -> dict[str, Any]:
        document: dict[str, Any] = copy.deepcopy(original)
        document["inputs"]["name"] = name
        document["claim"] = {**document["claim"], "text": claim, "decision": decision} if decision else None
        first = document["systems"][0]["metals"]
        for row in document["rows"]:
            if row["metals"] == first:
                row["metals"] = list(metals)
        document["systems"][0]["metals"] = list(metals)
        return {**document, **other}

    return changed


@pytest.fixture
def zone(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str], None]]:
    """Sets the clock of this machine to a time zone."""

    def put(name: str) -> None:
        monkeypatch.setenv("TZ", name)
        time.tzset()

    yield put
    monkeypatch.undo()
    time.tzset()


def test_a_record_holds_the_document_of_the_answer_its_number_and_its_time(brass: Solution, tmp_path: Path) -> None:
    files = [save_record(brass, tmp_path / "new" / "records") for _ in range(2)]
    given = json.loads(files[1].read_text(encoding="utf-8"))
    assert list(given) == ["schema", "made", "number", "solution"]
    assert (given["schema"], given["number"]) == ("alloysolve.record/1", 2)
    assert given["solution"] == json.loads(brass.to_json())
    assert given["made"] == "2026-03-12T00:00:00Z"  # the clock of these tests
    record = read_record(files[0])
    assert (record.number, record.solution, record.file) == (1, brass.document, files[0])
    assert [p.name for p in files[0].parent.iterdir() if p not in files] == []


def test_a_summary_says_what_was_found(brass: Solution, tmp_path: Path) -> None:
    s = read_record(save_record(brass, tmp_path)).summary
    first = brass.found[0]
    assert (s.name, s.note, s.claim, s.decision) == ("0117", "one worn corner", "silver 999", "contradicted")
    assert (s.metals, s.version) == (tuple(first.metals), VERSION)
    assert s.probability == pytest.approx(first.probability, rel=1e-2)


SAVE = """
import json, os, sys
from pathlib import Path
from alloysolve.answer.records import save_record
folder, links = Path(sys.argv[1]), sys.argv[2] == "links"
def refuse(*_):
    raise PermissionError(1, "Operation not permitted")
if not links:
    os.link = refuse
document = json.loads((folder.parent / "document.json").read_text(encoding="utf-8"))
start, go = os.pipe()
for k in range(8):
    if not os.fork():  # eight processes that need not load the package each
        os.close(go)
        os.read(start, 1)  # until all are there
        for i in range(10):
            save_record({**document, "inputs": {"name": f"{k}-{i}"}}, folder)
        os._exit(0)
os.close(go)
sys.exit(max(os.wait()[1] for k in range(8)))
"""


@pytest.mark.parametrize("drive", ["links", "no links"])
def test_eight_programs_at_once_lose_none_of_their_records(brass: Solution, tmp_path: Path, drive: str) -> None:
    (tmp_path / "document.json").write_text(brass.to_json(), encoding="utf-8")
    folder = tmp_path / "records"
    assert subprocess.run([sys.executable, "-c", SAVE, str(folder), drive]).returncode == 0
    found = records(folder)
    assert not found.skipped
    assert [s.number for s in found] == list(range(1, 81))
    assert sorted(s.name for s in found) == sorted(f"{k}-{i}" for k in range(8) for i in range(10))
    assert len(list(folder.iterdir())) == 80


def test_a_number_that_is_taken_is_never_written_over(
    brass: Solution, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = save_record(brass, tmp_path)
    before = first.read_bytes()
    monkeypatch.setattr(module, "last_number", lambda folder: 0)  # another run saved between looking and writing
    assert save_record(brass, tmp_path).name == "000002.json"
    monkeypatch.setattr(os, "link", lambda *_: (_ for _ in ()).throw(OSError(errno.ENOTSUP, "not supported")))
    assert save_record(brass, tmp_path).name == "000003.json"
    assert first.read_bytes() == before
    assert len(records(tmp_path)) == 3


def test_a_damaged_record_keeps_its_number(brass: Solution, tmp_path: Path) -> None:
    record_file(tmp_path, 7).write_text("", encoding="utf-8")
    assert save_record(brass, tmp_path).name == "000008.json"


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_save_that_breaks_off_leaves_nothing(
    brass: Solution, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    def full(*_: Any) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "link", full)  # so that `replace` is reached
    monkeypatch.setattr(os, call, full)
    with pytest.raises(InputError, match="No space left on device"):
        save_record(brass, tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_be_made_is_an_error_that_names_it(brass: Solution, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(InputError) as error:
        save_record(brass, tmp_path / "file" / "records")
    assert error.value.path == str(tmp_path / "file" / "records")
    assert "\n" not in str(error.value)
    with pytest.raises(InputError, match="a folder that can be written"):
        save_record(brass, "nul\0byte")


def test_a_folder_that_is_not_there_holds_no_records(tmp_path: Path) -> None:
    assert len(records(tmp_path / "nowhere")) == 0
    (tmp_path / "file").write_text("", encoding="utf-8")
    with pytest.raises(InputError, match="a folder of records that can be read"):
        records(tmp_path / "file")


def without(record: dict[str, Any], *place: Any) -> dict[str, Any]:
    """A record that lacks one part."""
    at: Any = record
    for key in place[:-1]:
        at = at[key]
    del at[place[-1]]
    return record


def with_(record: dict[str, Any], value: Any, *place: Any) -> dict[str, Any]:
    """A record with another value in one place."""
    at: Any = record
    for key in place[:-1]:
        at = at[key]
    at[place[-1]] = value
    return record


# how a record is damaged -> what the error must name
DAMAGE: dict[str, tuple[Callable[[dict[str, Any]], Any], str]] = {
    "empty": (lambda r: "", "a document in JSON"),
    "half": (lambda r: json.dumps(r)[:900], "a document in JSON"),
    "a list": (lambda r: [r], "a table in JSON"),
    "another document": (lambda r: r["solution"], "a record of the schema alloysolve.record/1"),
    "a later schema": (lambda r: with_(r, "alloysolve.record/2", "schema"), "alloysolve.record/2"),
    "a later answer": (lambda r: with_(r, "alloysolve.solution/2", "solution", "schema"), "solution.schema"),
    "no systems": (lambda r: without(r, "solution", "systems"), "solution.systems"),
    "no construction": (lambda r: without(r, "solution", "systems", 0, "constructions"), "systems[0].constructions"),
    "a metal that is a number": (lambda r: with_(r, 5, "solution", "systems", 0, "metals", 0), "metals[0]"),
    "no number of a range": (lambda r: with_(r, [1.0], "solution", "systems", 0, "ranges", "Cu"), "ranges.Cu"),
    "a chance that is none": (lambda r: with_(r, float("nan"), "solution", "systems", 0, "probability"), "probability"),
    "a chance beyond numbers": (lambda r: with_(r, 10**400, "solution", "something_else"), "something_else"),
    "a name that is a list": (lambda r: with_(r, ["0117"], "solution", "inputs", "name"), "solution.inputs.name"),
    "an unknown decision": (lambda r: with_(r, "well", "solution", "claim", "decision"), "solution.claim.decision"),
    "a reading without text": (lambda r: without(r, "solution", "readings", 0, "text"), "solution.readings[0].text"),
    "true as number": (lambda r: with_(r, True, "number"), "number"),
    "the number of another": (lambda r: with_(r, 2, "number"), "a record whose file is named by its number"),
    "no time": (lambda r: with_(r, "yesterday", "made"), "a time such as"),
    "a time of no zone": (lambda r: with_(r, "2026-11-25T15:40:03", "made"), "a time such as"),
    "a time no clock shows": (lambda r: with_(r, "0001-01-01T00:00:00+14:00", "made"), "a time such as"),
}


@pytest.mark.parametrize("damage", DAMAGE)
def test_a_damaged_record_is_named_and_skipped(brass: Solution, tmp_path: Path, damage: str) -> None:
    for _ in range(3):
        save_record(brass, tmp_path)
    make, named = DAMAGE[damage]
    file = record_file(tmp_path, 1)
    damaged = make(json.loads(file.read_text(encoding="utf-8")))
    file.write_text(damaged if isinstance(damaged, str) else json.dumps(damaged), encoding="utf-8")
    found = records(tmp_path)
    assert [s.number for s in found] == [2, 3]
    (error,) = found.skipped
    assert "000001.json" in error.path
    assert named in str(error)
    assert "\n" not in str(error)
    assert counts(tmp_path) == {"contradicted": 2}
    with pytest.raises(InputError):
        read_record(file)


def test_what_is_no_file_of_text_is_skipped_too(brass: Solution, tmp_path: Path) -> None:
    save_record(brass, tmp_path)
    record_file(tmp_path, 2).write_bytes(b"\xff\xfe\x00")
    record_file(tmp_path, 3).mkdir()
    record_file(tmp_path, 4).symlink_to(record_file(tmp_path, 4))
    (tmp_path / "000001 (copy).json").write_bytes(record_file(tmp_path, 1).read_bytes())
    (tmp_path / "notes.txt").write_text("not a record", encoding="utf-8")
    found = records(tmp_path)
    assert [s.number for s in found] == [1]
    assert sorted(Path(e.path.split(".json")[0]).name for e in found.skipped) == [
        "000001 (copy)",
        "000002",
        "000003",
        "000004",
    ]


@pytest.fixture
def shop(like: Callable[..., dict[str, Any]], tmp_path: Path, zone: Callable[[str], None]) -> Path:
    """A folder of six records of an invented counter."""
    zone("UTC")
    pieces = [
        (like("0117"), datetime(2026, 10, 31, 12, tzinfo=UTC)),
        (like("0118 Medal", "gold 999", "contradicted", ("W",)), NOON),
        (like("0119", "silver 900", "not contradicted", ("Ag", "Cu")), NOON),
        (like("سبيكة فضة", "silver 999", "undecided", ("Zn", "Cu")), NOON.replace(day=26)),
        (like("純銀の棒", decision=None, metals=("Ag", "Cu", "Zn")), NOON.replace(day=26)),
        (like("ｆｕｌｌ width", decision=None, something_else=0.99), NOON.replace(day=26)),
    ]
    for document, made in pieces:
        save_record(document, tmp_path, made)
    return tmp_path


@pytest.mark.parametrize(
    ("conditions", "numbers"),
    [
        ({}, [1, 2, 3, 4, 5, 6]),
        ({"text": "medal GOLD"}, [2]),
        ({"text": "worn corner"}, [1, 2, 3, 4, 5, 6]),  # in the note
        ({"text": "فضة"}, [4]),
        ({"text": "純銀"}, [5]),
        ({"text": "full"}, [6]),
        ({"text": "000003"}, [3]),
        ({"decision": "contradicted"}, [1, 2]),
        ({"decision": "Not-contradicted"}, [3]),
        ({"decision": "none"}, [5, 6]),
        ({"system": "Cu Zn"}, [1, 4]),
        ({"system": "zn, cu"}, [1, 4]),
        ({"system": "W"}, [2]),
        ({"system": "something else"}, [6]),
        ({"days": days_of("2026-10")}, [1]),
        ({"days": days_of("2026-11"), "system": "Cu Zn", "text": "silver"}, [4]),
        ({"text": "platinum"}, []),
    ],
    ids=str,
)
def test_records_are_found_by_every_condition(shop: Path, conditions: dict[str, str], numbers: list[int]) -> None:
    found = records(shop, **conditions)
    assert [s.number for s in found] == numbers
    assert found.total == 6


@pytest.mark.parametrize(
    ("condition", "named"),
    [
        ({"decision": "contradict"}, 'the nearest known is "contradicted"'),
        ({"system": "copper zinc"}, "symbols of metals"),
    ],
)
def test_a_condition_no_record_could_meet_is_an_error(shop: Path, condition: dict[str, str], named: str) -> None:
    with pytest.raises(InputError, match=named):
        records(shop, **condition)


@pytest.mark.parametrize("month", ["November", "2026-13", "2026", "0000-01", ""])
def test_a_month_that_is_none_is_an_error(month: str) -> None:
    with pytest.raises(InputError, match="a year and a month"):
        days_of(month)


def test_a_month_has_all_its_days() -> None:
    assert [d.isoformat() for d in days_of("2028-02")] == ["2028-02-01", "2028-02-29"]  # a leap year
    assert [d.isoformat() for d in days_of("2026-12")] == ["2026-12-01", "2026-12-31"]


def test_a_week_begins_on_monday(monkeypatch: pytest.MonkeyPatch, zone: Callable[[str], None]) -> None:
    zone("UTC")
    sunday = datetime(2026, 11, 29, 12, tzinfo=UTC)  # by any calendar
    monkeypatch.setenv("SOURCE_DATE_EPOCH", f"{sunday.timestamp():.0f}")
    assert [d.isoformat() for d in this_week()] == ["2026-11-23", "2026-11-29"]
    assert [d.isoformat() for d in this_day()] == ["2026-11-29", "2026-11-29"]


def test_what_is_to_be_looked_at_again_is_undecided_and_has_not_been_decided_since(
    shop: Path, like: Callable[..., dict[str, Any]]
) -> None:
    open_ = like("0120", "18 ct", "undecided", ("Au", "Cu"))
    save_record(open_, shop)  # 7, looked at again below
    save_record(open_, shop)  # 8, still undecided then
    assert [s.number for s in records(shop, open_=True)] == [4, 7, 8]
    save_record(like("0120", "18 ct", "not contradicted", ("Au", "Cu")), shop)
    save_record(like("0120", "14 ct", "undecided", ("Au", "Cu")), shop)  # 10, another claim
    for _ in range(2):
        save_record(like("", "18 ct", "undecided", ("Au", "Cu")), shop)  # 11 and 12, nobody knows whether they are one
    save_record(like("", "18 ct", "contradicted", ("Au", "Cu")), shop)
    assert [s.number for s in records(shop, open_=True)] == [4, 10, 11, 12]


def test_counts(shop: Path) -> None:
    assert list(counts(shop, "decision").items()) == [
        ("contradicted", 2),
        ("none", 2),
        ("not contradicted", 1),
        ("undecided", 1),
    ]
    assert next(iter(counts(shop, "system").items())) == ("Cu Zn", 2)
    assert counts(shop, "system") == {"Cu Zn": 2, "Ag Cu": 1, "Ag Cu Zn": 1, "W": 1, "something else": 1}
    assert list(counts(shop, "day").items()) == [("2026-11-26", 3), ("2026-11-25", 2), ("2026-10-31", 1)]
    assert list(counts(shop, "month").items()) == [("2026-11", 5), ("2026-10", 1)]
    assert records(shop, system="Cu Zn").count("decision") == {"contradicted": 1, "undecided": 1}
    with pytest.raises(InputError, match="known are decision, system, day, month"):
        counts(shop, "week")


def test_days_are_those_of_the_shops_clock(shop: Path, zone: Callable[[str], None]) -> None:
    """Noon of 31 October in UTC is already 1 November fourteen hours east: POSIX writes that zone as -14."""
    zone("XXX-14")
    assert counts(shop, "month") == {"2026-11": 6}
    assert [s.number for s in records(shop, days=days_of("2026-10"))] == []


def test_a_name_that_no_coding_holds_is_kept_as_it_is(like: Callable[..., dict[str, Any]], tmp_path: Path) -> None:
    """A file name of the shop's recording may hold a lone surrogate, which UTF-8 has not."""
    save_record(like("tap-\udcff.wav"), tmp_path)
    assert read_record(record_file(tmp_path, 1)).summary.name == "tap-\udcff.wav"


def test_the_folder_is_that_of_the_settings_else_in_the_users_data(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert records_folder(Settings()).parts[-2:] == ("alloysolve", "records")
    assert records_folder(Settings()).is_absolute()
    file = tmp_path / "shop.toml"
    file.write_text('[records]\nfolder = "pieces"\n', encoding="utf-8")
    assert records_folder(find_settings(file)) == tmp_path / "pieces"  # seen from the settings file
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    assert records_folder(Settings.from_dict({"records": {"folder": "~/pieces"}})) == tmp_path / "home" / "pieces"
    write_settings(find_settings(file), tmp_path / "again.toml")
    assert find_settings(tmp_path / "again.toml").records.folder == "pieces"


def test_where_records_are_kept_is_no_part_of_an_answer(brass: Solution, tmp_path: Path) -> None:
    elsewhere = Settings.from_dict({"records": {"folder": str(tmp_path)}})
    assert solve(brass.piece, elsewhere).to_json() == brass.to_json()
