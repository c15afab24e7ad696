"""Rate and memory of a list: rows that are solved one by one, and rows looked up, at sizes up to a million.

    python tests/independent/batch_speed.py [--sizes 10000,100000,1000000] [--jobs 2] [--solved 200]

Rows: published grades under five claims, weighed on a 0.01 g scale with errors, each with the ten best systems; "and
conductivity" adds a whole-piece resistivity, "and meter" one of unknown frequency. Every run is a process of its own;
its memory is the largest resident set of any of its processes, "processor ms" what all of them used for one row, tables
included. Nothing here is asserted.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from alloysolve.published.load import default_tables

ROOT = Path(__file__).parent.parent.parent
CLAIMS = ("", "silver 999", "silver 925", "18 ct yellow", "gold 999")
READ = {
    "density": "",
    "density and conductivity": "resistivity",
    "density and meter": "conductivity",
    "density and X-rays": "surface_composition",
}
SOLVED = ("density and meter", "density and X-rays")


def write_rows(file: Path, count: int, reading: str, seed: int = 1) -> None:
    """A CSV of random pieces."""
    rng = np.random.default_rng(seed)
    grades = [g for g in default_tables().grades.values() if g.conductivity_iacs]
    with open(file, "w", encoding="utf-8") as stream:
        stream.write(f"name,claim,mass,displaced,magnet{',' + reading if reading else ''}\n")
        for i in range(count):
            g = grades[rng.integers(len(grades))]
            mass = 10 ** rng.uniform(0.7, 2.0)
            water = mass / g.density_g_cm3 * 0.998 * (1 + 0.003 * rng.normal())
            iacs = float(g.conductivity_iacs or 1) * np.exp(0.04 * rng.normal())
            printed = ", ".join(f"{m} {p:.4g} %" for m, p in g.composition.items())
            cell = {"": "", "resistivity": f",{172.41 / iacs:.3f} uohm cm", "conductivity": f",{iacs:.2f} %IACS"}
            cell["surface_composition"] = f',"{printed}"'
            stream.write(f"{i},{CLAIMS[rng.integers(5)]},{mass:.2f} g,{water:.2f} g,none{cell[reading]}\n")


def timed(source: Path, output: Path, jobs: int) -> tuple[float, float, float]:
    """Seconds, seconds of processor, and the largest resident set [MB] of the run and its processes."""
    code = (
        "import resource, sys; from alloysolve.cli import main\n"
        "try: main()\n"
        "finally:\n"
        "    used = [resource.getrusage(w) for w in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]\n"
        "    sys.stderr.write(f'{max(u.ru_maxrss for u in used)} {sum(u.ru_utime + u.ru_stime for u in used)}')"
    )
    start = time.perf_counter()
    done = subprocess.run(
        [
            sys.executable,
            "-c",
            f"if __name__ == '__main__':\n    exec({code!r})",
            "batch",
            str(source),
            "-o",
            str(output),
            "--jobs",
            str(jobs),
            "--quiet",
        ],
        check=True,
        capture_output=True,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        text=True,
    )
    peak, processor = done.stderr.split()
    return time.perf_counter() - start, float(processor), int(peak) / 1024


def main() -> None:
    """Prints one line a run."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--sizes", default="10000,100000")
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--solved", type=int, default=200)
    parser.add_argument("--read", default="density and conductivity")
    asked = parser.parse_args()
    print(f"{'':44}{'rows':>9}{'rows a second':>15}{'processor ms':>14}{'MB':>7}")
    with tempfile.TemporaryDirectory() as folder:
        source, output = Path(folder) / "pieces.csv", Path(folder) / "results.csv"
        runs = [(name, asked.solved) for name in SOLVED if asked.solved]
        runs += [(name, int(size)) for size in asked.sizes.split(",") for name in asked.read.split(",")]
        for name, count in runs:
            write_rows(source, count, READ[name])
            seconds, processor, megabytes = timed(source, output, asked.jobs)
            label = f"{'solved' if name in SOLVED else 'looked up'}, {name}"
            print(
                f"{label:44}{count:9d}{count / seconds:15.0f}{1000 * processor / count:14.2f}{megabytes:7.0f}",
                flush=True,
            )
            assert output.read_bytes().count(b"\n") == count + 1
    print(f"of this process: {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
