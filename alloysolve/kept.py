"""Arrays that take long to build, kept on disk between runs.

They are only ever a copy of what would be built anyway: the name of a file holds a hash of everything that its arrays
depend on, so a changed table, line of code or numpy is another file. A file that is missing or damaged is built anew,
and a folder that cannot be written to is left alone. Files are written beside their place and then moved into it, so
that any number of processes may share a folder. The environment variable ALLOYSOLVE_CACHE names another folder, or says
"off". Deleting the folder is always safe.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import math
import mmap
import os
from collections.abc import Callable, Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .places import user_folder

VARIABLE = "ALLOYSOLVE_CACHE"
OFF = "off"
ENDING = ".arrays"
FORMAT = 1  # of the files; it rises when their layout changes
MOST_BYTES = 1_000_000_000  # of all files together; beyond it, those that were not used for longest are deleted
ALIGNED = 64  # bytes: each array starts at a multiple of it, as numpy likes it

Arrays = Mapping[str, NDArray[Any]]


def kept(name: str, made_from: str, rooms: Iterable[str], build: Callable[[], Arrays]) -> Arrays:
    """Arrays as `build` makes them, read from disk if they were built before. They cannot be written to.

    Parameters
    ----------
    name : what they are; the start of the file's name.
    made_from : hash or text of everything that they depend on besides the code, such as `published.load.digest`.
    rooms : rooms and modules ("room/module") of the package whose code makes them; all modules outside rooms count in
        any case.
    """
    folder = _folder()
    if folder is None:
        return _fixed(build())
    key = hashlib.sha256("\n".join([str(FORMAT), np.__version__, _code(*sorted(rooms)), made_from]).encode())
    file = folder / f"{name}-{key.hexdigest()[:32]}{ENDING}"
    found = _read(file)
    if found is None:
        found = _fixed(build())
        with contextlib.suppress(OSError):
            _write(file, found)
            _bound(folder)
    return found


def _folder() -> Path | None:
    """Where files are kept; None if nothing is."""
    named = os.environ.get(VARIABLE, "")
    if named:
        return None if named == OFF else Path(named)
    return user_folder("cache")


@cache
def _code(*rooms: str) -> str:
    """SHA-256 of the modules of some rooms, and of those outside rooms: a change of the code is a change of the key."""
    package = Path(__file__).parent
    total = hashlib.sha256()
    for pattern in ("*.py", *(f"{room}.py" if "/" in room else f"{room}/*.py" for room in rooms)):
        for file in sorted(package.glob(pattern)):
            total.update(file.read_bytes())
    return total.hexdigest()


def _fixed(arrays: Arrays) -> Arrays:
    """The same arrays, read-only like those that come from a file."""
    out = {}
    for name, array in arrays.items():
        out[name] = np.asarray(array, order="C")
        out[name].setflags(write=False)
    return out


def _sum(array: NDArray[Any]) -> int:
    """A sum over the bytes of an array, by which damage is noticed."""
    bytes_ = np.frombuffer(array, dtype=np.uint8) if array.size else np.zeros(0, np.uint8)
    whole = len(bytes_) // 8 * 8
    return int(bytes_[:whole].view(np.uint64).sum(dtype=np.uint64)) + int(bytes_[whole:].sum())


def _write(file: Path, arrays: Arrays) -> None:
    """Writes a file: one line that says what lies where, with a hash of what it says, then the arrays."""
    import tempfile

    places, at = {}, 0
    for name, array in arrays.items():
        places[name] = [array.dtype.str, array.shape, at, _sum(array)]
        at += -(-array.nbytes // ALIGNED) * ALIGNED
    said = json.dumps(places).encode()
    line = hashlib.sha256(said).hexdigest().encode() + b" " + said
    line += b" " * (-(len(line) + 1) % ALIGNED) + b"\n"
    file.parent.mkdir(parents=True, exist_ok=True)
    handle, beside = tempfile.mkstemp(prefix=file.stem, suffix=f".new{ENDING}", dir=file.parent)
    try:
        with open(handle, "wb") as out:
            out.write(line)
            for array in arrays.values():
                out.write(array.data if array.size else b"")
                out.write(bytes(-array.nbytes % ALIGNED))
        os.replace(beside, file)
    except BaseException:
        os.unlink(beside)
        raise


def _read(file: Path) -> Arrays | None:
    """The arrays of a file, in memory that processes share; None if there is no such file or it is damaged."""
    try:
        with file.open("rb") as opened:
            line = opened.readline()
            digest, said = line.split(maxsplit=1)
            if hashlib.sha256(said.rstrip()).hexdigest().encode() != digest:
                return None
            data = mmap.mmap(opened.fileno(), 0, access=mmap.ACCESS_READ)
        out = {}
        for name, (kind, shape, at, total) in json.loads(said).items():
            out[name] = np.frombuffer(data, kind, math.prod(shape), len(line) + at).reshape(shape)
            if _sum(out[name]) != total:
                return None
    except (OSError, ValueError):  # whatever is wrong with it, it can be built anew
        return None
    with contextlib.suppress(OSError):
        os.utime(file)  # used last of all
    return out


def _bound(folder: Path) -> None:
    """Deletes the files that were not used for longest, until the others are not too much together."""
    files = sorted(folder.glob(f"*{ENDING}"), key=lambda f: f.stat().st_mtime, reverse=True)
    total = 0
    for file in files:
        total += file.stat().st_size
        if total > MOST_BYTES:
            file.unlink(missing_ok=True)
