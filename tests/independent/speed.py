"""Times what a user waits for: import, one answer from the shell, a warm solve, a listing, memory.

    python tests/independent/speed.py [--repeats 7]

Prints medians and the best of the repeats; machines are noisy, so nothing here is asserted.
"""

from __future__ import annotations

import argparse
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
EXAMPLE = ROOT / "examples" / "0117-silver-bar.toml"
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


def main() -> None:
    """Prints one row per thing."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--repeats", type=int, default=7)
    repeats = parser.parse_args().repeats
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
    child = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    own = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory: {child:.0f} MB of a command, {own:.0f} MB of this process")


if __name__ == "__main__":
    main()
