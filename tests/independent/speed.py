"""Times what a user waits for: import, an answer from the shell, a warm solve and its JSON, a listing, memory.

    python -m tests.independent.speed [--repeats 7] [--pieces 100]

Commands are timed by the clock, medians and best of the repeats. Solves are timed by the processor, as other programs
then count less: seven pieces, best of the repeats, and pieces drawn at random, once each. Beside the time stands how
much was looked at: pairs of a body and a construction that are possible; stretches of their parameter that were
bounded, and rows that were evaluated, each counted once for every reading; and rows kept. Machines are noisy, so
nothing here is asserted.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np

from tests.independent.drawn_pieces import drawn

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
EXAMPLE = ROOT / "examples" / "0117-silver-bar.toml"
BAR = {
    "claim": "silver 999",
    "mass": "31.18 g",
    "displaced": ["3.64 g", "3.63 g"],
    "bar": ["50.0 mm", "28.0 mm", "2.60 mm"],
}
METER = {"kind": "conductivity", "value": "29.3 %IACS", "frequency": "60 kHz"}
SILVERED = {"kind": "surface_composition", "value": "Ag 96.2 Cu 2.6 Zn 1.2"}
LID = {"claim": "silver 925", "mass": "48.62 g", "displaced": ["5.66 g", "5.65 g"]}
PIECES: dict[str, dict[str, Any]] = {
    "weighing, claim": {"claim": "silver 999", "mass": "31.18 g", "displaced": "3.64 g"},
    "weighing, 60 kHz conductivity, magnet, claim": {**BAR, "magnet": "none", "reading": [METER]},
    "weighing, X-rays": {**LID, "reading": [SILVERED]},
    "weighing, disc, resonance": {
        **{"claim": "silver 900", "mass": "26.90 g", "displaced": ["2.67 g", "2.68 g"], "disc": ["38.0 mm", "2.5 mm"]},
        "reading": [{"kind": "resonance", "value": "4730 Hz 7.9 kHz"}],
    },
    "everything, six readings": {
        **BAR,
        "magnet": "none",
        "reading": [
            METER,
            {"kind": "conductivity", "value": "33 %IACS", "frequency": "480 kHz"},
            SILVERED,
            {"kind": "resonance", "value": "3.9 kHz"},
        ],
    },
    "no claim, conductivity, magnet": {
        **{"mass": "31.18 g", "displaced": "3.64 g", "magnet": "none"},
        "reading": [{"kind": "conductivity", "value": "29.3 %IACS"}],
    },
    "two X-ray readings": {
        **LID,
        "magnet": "none",
        "reading": [
            {"kind": "surface_composition", "value": "Ag 27.0 Cu 45.3 Zn 27.7", "place": "worn edge"},
            SILVERED | {"place": "middle"},
        ],
    },
}
COLUMNS = ("solve ms", "JSON ms", "possible", "bounded", "evaluated", "kept")
PAGE = Path(tempfile.gettempdir()) / "alloysolve-speed.html"


def timed(action: Callable[[], object], repeats: int) -> tuple[float, float]:
    """Median and least time of an action [s]."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        action()
        times.append(time.perf_counter() - start)
    return statistics.median(times), min(times)


def shell(*args: str) -> Callable[[], object]:
    """A Python process with arguments, its output thrown away."""
    return lambda: subprocess.run([sys.executable, *args], cwd=ROOT, stdout=subprocess.DEVNULL, check=True)


def warm(repeats: int) -> list[tuple[str, float, float]]:
    """Answers in a process that has loaded its tables."""
    from alloysolve import Piece, mixtures, read_piece, solve
    from alloysolve.inputs.settings import Settings

    shop, piece = Settings(), read_piece(EXAMPLE)
    weighing_only = Piece(claim="silver 999", mass="31.18 g", displaced="3.64 g")
    ring = read_piece(ROOT / "examples" / "0120-ring.toml")
    rows = []
    for name, each in (
        ("weighing + conductivity + magnet", piece),
        ("weighing alone", weighing_only),
        ("small ring", ring),
    ):
        solve(each, shop)
        rows.append((f"solve warm, {name}", *timed(lambda each=each: solve(each, shop), repeats)))
    solution = solve(piece, shop)
    rows.append(("to_json", *timed(solution.to_json, repeats)))
    rows.append(("mixtures, all pairs and triples as a frame", *timed(lambda: mixtures(solution.weighing), repeats)))
    return rows


@contextmanager
def counted() -> Iterator[dict[str, int]]:
    """Counts what a solve looks at, by methods of the solver that are wrapped for as long."""
    from alloysolve.integral.evidence import Evidence
    from alloysolve.integral.solver import Solver
    from alloysolve.readings.error_model import VolumeLikelihood

    seen = dict.fromkeys(("possible", "bounded", "evaluated"), 0)

    def wrap(method: Callable[..., Any], name: str, size: Callable[[Any], int]) -> Callable[..., Any]:
        def counting(self: Any, *given: Any) -> Any:
            seen[name] += size(given)
            return method(self, *given)

        return counting

    wrapped = (
        (Solver, "rows", "possible", lambda given: sum(int((b.share > 0).sum()) for b in given[0])),
        (VolumeLikelihood, "most", "bounded", lambda given: given[0][..., 1:].size),
        (VolumeLikelihood, "pdf", "evaluated", lambda given: given[0].size),
        (Evidence, "most_of", "bounded", lambda given: given[1].parameter[:, 1:].size),
        (Evidence, "along_of", "evaluated", lambda given: given[1].parameter.size),
        (Evidence, "pdf_of", "evaluated", lambda given: len(given[1])),
    )
    with ExitStack() as stack:
        for owner, method, name, size in wrapped:
            stack.enter_context(patch.object(owner, method, wrap(getattr(owner, method), name, size)))
        yield seen


def processor(fields: dict[str, Any], repeats: int) -> tuple[float, ...]:
    """Least processor time of a solve and of its JSON beside it [ms], and what was looked at: see `COLUMNS`."""
    from alloysolve import Piece, solve
    from alloysolve.inputs.settings import Settings

    shop, piece = Settings(), Piece.from_dict(fields)
    of_solve, of_json = [], []
    for _ in range(repeats):
        with counted() as seen:
            start = time.process_time()
            solution = solve(piece, shop)
            between = time.process_time()
        solution.to_json()
        of_solve.append(1e3 * (between - start))
        of_json.append(1e3 * (time.process_time() - between))
    return min(of_solve), min(of_json), *seen.values(), len(solution.posterior.share)


def pieces(repeats: int, count: int) -> None:
    """Prints processor times of the seven pieces, and of random ones."""
    from alloysolve.errors import InputError

    print(f"{'processor':46}" + "".join(f"{name:>10}" for name in COLUMNS))
    for name, fields in PIECES.items():
        print(f"{name:46}" + "".join(f"{x:10.0f}" for x in processor(fields, repeats)), flush=True)
    found, numbers = [], []
    for number in range(count):
        try:
            found.append(processor(drawn(number), 1))
        except InputError:
            continue  # a drawn piece that nobody could weigh
        numbers.append(number)
    if not found:
        return
    columns = np.array(found)
    both = columns[:, :2].sum(axis=1)
    for name, share in (("median", 0.5), ("95 %", 0.95), ("worst", 1.0)):
        label = f"{len(found)} random pieces, {name} of each column"
        print(f"{label:46}" + "".join(f"{x:10.0f}" for x in np.quantile(columns, share, axis=0)))
        print(f"{f'solve and JSON together, {name}':46}{np.quantile(both, share):10.0f}")
    print("slowest, both together:", ", ".join(f"number {numbers[k]} {both[k]:.0f} ms" for k in np.argsort(-both)[:5]))


def main() -> None:
    """Prints one row per thing."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--repeats", type=int, default=7)
    parser.add_argument("--pieces", type=int, default=100)
    given = parser.parse_args()
    repeats = given.repeats
    bare = timed(shell("-c", "pass"), repeats)
    imported = timed(shell("-c", "import alloysolve; alloysolve.__all__"), repeats)
    rows = [
        ("python alone", *bare),
        ("import alloysolve, over python alone", imported[0] - bare[0], imported[1] - bare[1]),
        (
            "alloysolve solve FILE, from the shell",
            *timed(shell("-m", "alloysolve", "solve", str(EXAMPLE)), repeats),
        ),
        (
            "alloysolve weigh, from the shell",
            *timed(shell("-m", "alloysolve", "weigh", "31.18", "3.64"), repeats),
        ),
        (
            "alloysolve page FILE, from the shell",
            *timed(shell("-m", "alloysolve", "page", str(EXAMPLE), "--out", str(PAGE)), repeats),
        ),
        *warm(repeats),
    ]
    print(f"{'':48}{'median ms':>10}{'best ms':>10}")
    for name, median, best in rows:
        print(f"{name:48}{1000 * median:10.1f}{1000 * best:10.1f}")
    pieces(repeats, given.pieces)
    child = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory: {child:.0f} MB of a command, {own:.0f} MB of this process")


if __name__ == "__main__":
    main()
