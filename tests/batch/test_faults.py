"""What happens to a run when a disk is full, a process is killed or another run writes the same file."""

import json
import os
import resource
import signal
import subprocess
import sys
import time
from concurrent.futures.process import BrokenProcessPool

import pytest

from alloysolve.batch.run import solve_many
from alloysolve.batch.workers import workers
from alloysolve.errors import InputError
from alloysolve.inputs.settings import Settings

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals and locks of other systems")


@pytest.fixture
def pieces(tmp_path):
    file = tmp_path / "many.csv"
    file.write_text("density\n" + "".join(f"{7 + 0.9 * k:.1f} g/cm3\n" for k in range(7)))
    return file


def stop_after(rows, error):
    """Called with rows answered; fails once there are so many."""
    seen = []

    def told(n):
        seen.append(n)
        if sum(seen) >= rows:
            raise error

    return told


def resumed(pieces, target):
    """The bytes of the run that goes on, and those of one that was never interrupted."""
    whole = target.with_name("whole" + target.suffix)
    solve_many(pieces, target, settings=Settings(), chunk=2, resume=True)
    solve_many(pieces, whole, settings=Settings())
    return target.read_bytes(), whole.read_bytes()


def test_a_signal_keeps_what_is_answered(pieces, tmp_path):
    target = tmp_path / "out.csv"
    with pytest.raises(KeyboardInterrupt, match="4 rows are answered and kept; the same command with --resume goes on"):
        solve_many(pieces, target, settings=Settings(), chunk=2, told=stop_after(4, KeyboardInterrupt()))
    first, second = resumed(pieces, target)
    assert first == second


def test_a_killed_worker_is_named(pieces, tmp_path):
    with pytest.raises(InputError, match=r"jobs: .* 2 rows are answered and kept"):
        solve_many(pieces, tmp_path / "o.csv", settings=Settings(), chunk=2, told=stop_after(2, BrokenProcessPool()))


def test_a_second_run_into_one_file_is_refused(pieces, tmp_path):
    target, refused = tmp_path / "out.csv", []

    def second(_):
        if not refused:
            with pytest.raises(InputError, match="no other run is writing") as caught:
                solve_many(pieces, target, settings=Settings())
            refused.append(caught)

    assert solve_many(pieces, target, settings=Settings(), chunk=2, told=second).rows == 7
    assert refused
    assert len(target.read_text(encoding="utf-8").splitlines()) == 8


def test_a_full_disk_is_named_and_the_run_goes_on_later(pieces, tmp_path):
    """A limit on the size of files stands for the disk: the first answers fit, the others do not."""
    target, before = tmp_path / "out.jsonl", resource.getrlimit(resource.RLIMIT_FSIZE)

    def fill(_):
        size = (tmp_path / "out.jsonl.part").stat().st_size
        resource.setrlimit(resource.RLIMIT_FSIZE, (size + 100, before[1]))

    try:
        with pytest.raises(InputError, match="2 rows are answered and kept"):
            solve_many(pieces, target, settings=Settings(), chunk=2, told=fill)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert not target.exists()
    first, second = resumed(pieces, target)
    assert first == second


@pytest.mark.parametrize("journal", [None, "", "[]", '{"key": "x"', '{"key": 1}'])
@pytest.mark.parametrize("resume", [False, True])
def test_a_part_file_of_somebody_else_is_left_alone(pieces, tmp_path, journal, resume):
    part, beside = tmp_path / "out.csv.part", tmp_path / "out.csv.part.json"
    part.write_text("my own")
    if journal is not None:
        beside.write_text(journal)
    with pytest.raises(InputError, match="no file of that name"):
        solve_many(pieces, tmp_path / "out.csv", settings=Settings(), resume=resume)
    assert part.read_text() == "my own"
    assert not beside.exists() if journal is None else beside.read_text() == journal


def test_there_are_never_more_processes_than_cores_or_chunks(monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: 4)
    for chunks, most in ((100, 4), (3, 3)):
        with workers(None, 100_000, chunks) as (_, busy):
            assert busy == most
    with workers(None, 100_000, 1) as (pool, _):
        assert pool is None


PARENT = """
import json, os, sys, time
from alloysolve.batch.workers import workers
os.cpu_count = lambda: 2
with workers(None, 2, 2) as (pool, _):
    print(json.dumps([pool.submit(os.getpid).result() for _ in range(9)]), flush=True)
    time.sleep(600)
"""


def test_workers_end_with_the_process_that_started_them():
    parent = subprocess.Popen([sys.executable, "-c", PARENT], stdout=subprocess.PIPE, text=True)
    children = json.loads(parent.stdout.readline())
    parent.send_signal(signal.SIGKILL)
    parent.communicate()
    for _ in range(600):
        if not any(map(_runs, children)):
            return
        time.sleep(0.1)
    pytest.fail("a worker is still there a minute after its parent was killed")


def _runs(process):
    """Whether a process is there; one that ended and that nobody has asked about yet is not."""
    try:
        with open(f"/proc/{process}/stat") as file:
            return file.read().rsplit(")", 1)[1].split()[0] != "Z"
    except OSError:
        return False
