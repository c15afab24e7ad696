"""Many pieces at once: in order, in every form, on any executor, and on after an interruption."""

import csv
import json
import signal
import subprocess
import sys
from concurrent.futures import Future

import pandas as pd
import pytest

from alloysolve.answer.solution import solve
from alloysolve.batch import run as batch
from alloysolve.batch.run import solve_many
from alloysolve.errors import InputError
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from tests.conftest import EXAMPLES

HEAD = "name,claim,density,magnet\n"
ROWS = [
    "brass bar,silver 999,8.53 g/cm3,none",
    "good bar,silver 999,10.49 +- 0.03 g/cm3,none",
    "odd,silver 999,heavy,none",
    "=1+1,,8.9 g/cm3,none",
    '"مسكوكة",gold 999,19.3 g/cm3,none',
    "last,,7.3 g/cm3,",
]


@pytest.fixture
def pieces(tmp_path):
    file = tmp_path / "pieces.csv"
    file.write_text(HEAD + "\n".join(ROWS) + "\n", encoding="utf-8")
    return file


def answers(file):
    with file.open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


def test_every_row_has_its_answer_in_order_and_a_bad_one_its_error(pieces, tmp_path):
    found = solve_many(pieces, tmp_path / "out.csv", settings=Settings())
    rows = answers(tmp_path / "out.csv")
    assert [r["line"] for r in rows] == ["2", "3", "4", "5", "6", "7"]
    said = ["these readings speak against it", "nothing measured speaks against it"]
    assert [r["answer"] for r in rows][:2] == said
    assert "heavy" in rows[2]["error"]
    assert rows[3]["name"] == "'=1+1"  # no spreadsheet takes it for a formula
    assert rows[4]["name"] == "مسكوكة"
    assert rows[5]["likely"]
    assert (found.rows, sum(found.errors.values())) == (6, 1)
    assert found.first_errors[0].startswith("4: density")
    assert not list(tmp_path.glob("*.part*"))


def test_an_answer_is_that_of_a_single_piece(pieces, tmp_path):
    solve_many(pieces, tmp_path / "out.jsonl", settings=Settings())
    first = json.loads((tmp_path / "out.jsonl").read_text(encoding="utf-8").splitlines()[0])
    s = solve(Piece(claim="silver 999", density="8.53 g/cm3", magnet="none"), Settings())
    assert first["decision"] == s.decision.code
    likely = [x.metals for x in s.found if x.probability > 0.01]  # rarer ones nearly tie
    assert [tuple(x["metals"]) for x in first["systems"]][: len(likely)] == likely
    assert first["systems"][0]["probability"] == pytest.approx(s.found[0].probability, abs=0.01)
    assert first["precious"]["Ag"]["high"] == pytest.approx(s.precious["Ag"].high, rel=0.05)


def test_all_forms_say_the_same(pieces, tmp_path):
    frame = pd.read_csv(pieces, dtype=str)
    frame.to_parquet(tmp_path / "pieces.parquet")
    (tmp_path / "pieces.jsonl").write_text(
        "\n".join(json.dumps({k: v for k, v in row.items() if isinstance(v, str)}) for row in frame.to_dict("records"))
    )
    for form in ("csv", "jsonl", "parquet"):
        solve_many(tmp_path / f"pieces.{form}", tmp_path / f"out_{form}.parquet", settings=Settings(), wide=True)
    found = [
        pd.read_parquet(tmp_path / f"out_{form}.parquet").drop(columns="line") for form in ("csv", "jsonl", "parquet")
    ]
    pd.testing.assert_frame_equal(found[0], found[1])
    pd.testing.assert_frame_equal(found[0], found[2])
    assert found[0]["probability_1"].dtype == float


def test_processes_and_one_give_the_same_bytes(pieces, tmp_path):
    solve_many(pieces, tmp_path / "one.csv", settings=Settings())
    solve_many(pieces, tmp_path / "two.csv", settings=Settings(), jobs=2, chunk=2)
    assert (tmp_path / "one.csv").read_bytes() == (tmp_path / "two.csv").read_bytes()


@pytest.mark.filterwarnings("ignore")  # of the cluster's own libraries
def test_a_cluster_gives_the_same_bytes(pieces, tmp_path):
    distributed = pytest.importorskip("distributed")
    solve_many(pieces, tmp_path / "one.csv", settings=Settings())
    local = distributed.LocalCluster(n_workers=1, threads_per_worker=1, processes=False, dashboard_address=None)
    with local as cluster, distributed.Client(cluster) as client:
        solve_many(pieces, tmp_path / "cluster.csv", client.get_executor(), Settings(), chunk=2)
    assert (tmp_path / "one.csv").read_bytes() == (tmp_path / "cluster.csv").read_bytes()


KILLED = """
import os, signal, sys
from alloysolve.batch.run import solve_many
from alloysolve.inputs.settings import Settings
answered = []
def told(rows):
    answered.append(rows)
    if sum(answered) > 2:
        os.kill(os.getpid(), signal.SIGKILL)
solve_many(sys.argv[1], sys.argv[2], settings=Settings(), chunk=2, told=told)
"""


@pytest.mark.parametrize("form", ["csv", "jsonl"])
def test_a_killed_run_goes_on_and_ends_with_the_same_bytes(tmp_path, form):
    """It kills itself after its second chunk: from outside, a fast run can end and a slow one not have begun."""
    pieces, target = tmp_path / "many.csv", tmp_path / f"out.{form}"
    pieces.write_text("density\n" + "".join(f"{7 + 0.9 * k:.1f} g/cm3\n" for k in range(7)))
    run = subprocess.run([sys.executable, "-c", KILLED, str(pieces), str(target)], check=False)
    assert run.returncode == -signal.SIGKILL
    assert not target.exists()  # no half answer
    part = tmp_path / f"out.{form}.part"
    part.write_bytes(part.read_bytes() + b"half a li")  # as if killed while writing
    seen = []
    found = solve_many(pieces, target, settings=Settings(), chunk=2, resume=True, told=seen.append)
    assert seen[0] == 4  # those answered before
    assert found.rows == sum(seen) == 7
    solve_many(pieces, tmp_path / f"whole.{form}", settings=Settings())
    assert target.read_bytes() == (tmp_path / f"whole.{form}").read_bytes()


def test_another_run_is_not_gone_on_with(pieces, tmp_path):
    target = tmp_path / "out.csv"
    target.with_name("out.csv.part").write_text("")
    target.with_name("out.csv.part.json").write_text(json.dumps({"key": "another", "bytes": 0, "summary": {}}))
    with pytest.raises(InputError, match="without --resume"):
        solve_many(pieces, target, settings=Settings(), resume=True)


def test_a_source_that_changed_is_not_gone_on_with(pieces, tmp_path):
    target = tmp_path / "out.csv"

    def stop(rows):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        solve_many(pieces, target, settings=Settings(), chunk=2, told=stop)
    pieces.write_text(pieces.read_text(encoding="utf-8") + "one more,,8 g/cm3,\n", encoding="utf-8")
    with pytest.raises(InputError, match="without --resume"):
        solve_many(pieces, target, settings=Settings(), resume=True)


class Counting:
    """An executor that does nothing until asked for a result, and counts what waits."""

    def __init__(self):
        self.waiting, self.most = 0, 0

    def submit(self, function, *given):
        self.waiting += 1
        self.most = max(self.most, self.waiting)
        future = Future()

        def result(timeout=None):
            self.waiting -= 1
            return [
                {
                    "line": n,
                    "name": "",
                    "decision": None,
                    "p": None,
                    "reasons": [],
                    "notes": [],
                    "systems": [],
                    "rows": [],
                    "something_else": None,
                    "precious": {},
                    "cautions": [],
                    "words": {},
                    "own": {},
                    "error": None,
                }
                for n, *_ in given[0]
            ]

        future.result = result
        return future


def test_only_a_few_chunks_are_read_ahead(tmp_path, monkeypatch):
    """Memory does not grow with the file: rows are read when the executor has room."""
    monkeypatch.setattr("os.cpu_count", lambda: 2)  # with very many processors the whole file would be a few
    file, pool = tmp_path / "many.csv", Counting()
    file.write_text("density\n" + "8.5 g/cm3\n" * 20_000)
    found = solve_many(file, tmp_path / "out.csv", pool, Settings())
    assert found.rows == 20_000
    assert pool.most == batch.AHEAD * 2


@pytest.mark.parametrize(
    ("name", "text", "path"),
    [
        ("p.csv", "densty\n8.5\n", "column"),
        ("p.ods", "density\n8.5\n", "source"),
        ("p.csv", None, "p.csv"),
    ],
)
def test_a_file_that_cannot_be_used_is_refused_before_anything_is_written(tmp_path, name, text, path):
    file = tmp_path / name
    if text:
        file.write_text(text)
    with pytest.raises(InputError) as e:
        solve_many(file, tmp_path / "out.csv", settings=Settings())
    assert path in e.value.path
    assert list(tmp_path.iterdir()) == ([file] if text else [])


@pytest.mark.parametrize(("source", "answers"), [("p.csv", "out.parquet"), ("p.parquet", "out.csv")])
def test_without_pyarrow_nothing_is_begun(pieces, tmp_path, monkeypatch, source, answers):
    for name in ("pyarrow", "pyarrow.parquet"):
        monkeypatch.setitem(sys.modules, name, None)
    file = pieces.rename(tmp_path / source)
    with pytest.raises(InputError, match=r"alloysolve\[parquet\]"):
        solve_many(file, tmp_path / answers, settings=Settings())
    assert list(tmp_path.iterdir()) == [file]


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("p.jsonl", '{"density": "8.5 g/cm3"}\nnot json\n[1]\n{"densty": "8.5"}\n'),
        ("p.csv", 'density,name\n8.5 g/cm3,a\n8.6,b,c\n8.7 g/cm3,"so" and so\n'),
    ],
)
def test_a_row_that_cannot_be_read_is_reported_with_its_line(tmp_path, name, text):
    file = tmp_path / name
    file.write_text(text)
    found = solve_many(file, tmp_path / "out.jsonl", settings=Settings())
    rows = [json.loads(line) for line in (tmp_path / "out.jsonl").read_text().splitlines()]
    assert rows[0]["error"] is None
    assert all(r["error"] for r in rows[1:])
    assert [r["line"] for r in rows] == list(range(rows[0]["line"], rows[0]["line"] + len(rows)))
    assert found.rows == len(rows)


def test_the_example_stock_list(tmp_path):
    found = solve_many(EXAMPLES / "stock.csv", tmp_path / "out.csv", settings=Settings(), wide=True)
    assert found.rows == 12
    assert found.errors == {"displaced": 1}
    rows = {r["name"]: r for r in answers(tmp_path / "out.csv")}
    assert rows["S-001"]["decision"] == "contradicted"
    assert rows["S-001"]["system_1"] == "Cu Zn"
    assert rows["S-007"]["system_1"] == "W"
