"""The files of a run: its answers so far, how far it came, and that nobody else writes them."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import BrokenExecutor
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, BinaryIO

from ..answer.collect import prior_hash
from ..errors import InputError
from ..inference.commonness import NamedPrior
from ..inputs.files import replace_file
from ..inputs.settings import Settings, tables_of
from ..version import VERSION
from .answers import Layout
from .files import WRITTEN, form_of_file

try:
    import fcntl
except ImportError:  # Windows, where a second run is not noticed
    fcntl = None  # type: ignore[assignment]


class Run:
    """The answers so far in a part file beside the target, and beside it a journal of how far they reach."""

    def __init__(self, source: Path, target: Path, settings: Settings, prior: NamedPrior, layout: Layout) -> None:
        self.target, self.prior, self.layout = target, prior, layout
        self.form = form_of_file(target, "answers", WRITTEN)
        self.part = target.with_name(target.name + ".part")
        self.journal = target.with_name(target.name + ".part.json")
        tables = tables_of(settings)
        said = json.dumps(
            [str(source), _state(source), VERSION, prior_hash(tables, prior), settings.to_dict(), layout.wide],
            sort_keys=True,
            default=str,
        )
        self.key = hashlib.sha256(said.encode()).hexdigest()
        self.rows = 0
        self.file: BinaryIO | None = None

    def begin(self, resume: bool, overwrite: bool) -> dict[str, Any]:
        """Begins anew, or where the interrupted run stopped; returns the summary up to there, empty for a new run."""
        with self._said():
            os.stat(self.target.parent)  # a list may not make folders
            is_there = self.journal.exists() or self.part.exists()
            kept = self._kept(resume, overwrite) if is_there else {}
            if not (resume and kept):
                kept = {}
                self._note(0, {})  # before the part file, which is known as ours by it
            self.file = self._locked()
            self.file.truncate(kept.get("bytes", 0))
            self.file.seek(0, os.SEEK_END)
            if not kept and self.form == ".csv":
                self.file.write(self.layout.head().encode("utf-8"))
                self.file.flush()
                self._note(self.file.tell(), {})
        summary: dict[str, Any] = kept.get("summary", {})
        self.rows = summary.get("rows", 0)
        return summary

    def _kept(self, resume: bool, overwrite: bool) -> dict[str, Any]:
        """What the journal says; an error if these are files of somebody else, or of another run to resume."""
        try:
            kept = json.loads(self.journal.read_bytes())
            known = {"key": str, "bytes": int, "summary": dict}
            if any(type(kept[name]) is not kind for name, kind in known.items()):
                raise ValueError
        except (OSError, ValueError, LookupError, TypeError, RecursionError) as e:
            if overwrite and not resume:
                return {}
            place = self.journal if self.journal.exists() else self.part
            step = "move it out of the way, or begin anew with --overwrite and without --resume"
            raise InputError("answers", str(place), "no file of that name, or that of an interrupted run", step) from e
        if resume and kept["key"] != self.key:
            expected = "the journal of the same source, settings and version"
            raise InputError("resume", str(self.journal), expected, "start without --resume")
        if resume and (not self.part.exists() or self.part.stat().st_size < kept["bytes"]):
            raise InputError("resume", str(self.part), "all that was answered before", "start without --resume")
        return dict(kept)

    def _locked(self) -> BinaryIO:
        """The part file, which no other run can open while this one lasts, however that ends."""
        file = open(os.open(self.part, os.O_RDWR | os.O_CREAT, 0o666), "r+b")  # noqa: SIM115
        try:
            if fcntl:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as e:
            file.close()
            expected, step = "a file that no other run is writing", "wait for it, or choose another name"
            raise InputError("answers", str(self.target), expected, step) from e
        return file

    def keep(self, answers: Sequence[Mapping[str, Any]], summary: Mapping[str, Any]) -> None:
        """Appends answers, then notes how far the run came; what is not noted is written again."""
        with self._said():
            assert self.file is not None
            self.file.write(self.layout.text(answers, self.form).encode("utf-8"))
            self.file.flush()
            self._note(self.file.tell(), summary)
        self.rows = summary["rows"]

    def _note(self, size: int, summary: Mapping[str, Any]) -> None:
        replace_file(self.journal, json.dumps({"key": self.key, "bytes": size, "summary": summary}), str(self.journal))

    def finish(self) -> None:
        """Turns the part file into the target in one step."""
        with self._said():
            assert self.file is not None
            if self.form in (".parquet", ".xlsx"):
                whole = self.target.with_name(f".{self.target.name}.{os.getpid()}")
                try:
                    self.layout.write(self.part, whole, self.form)
                    os.replace(whole, self.target)
                finally:
                    whole.unlink(missing_ok=True)
                self.part.unlink()
            else:
                if not fcntl:  # Windows moves no open file
                    self.file.close()
                os.replace(self.part, self.target)
            self.journal.unlink(missing_ok=True)

    @contextmanager
    def _said(self) -> Iterator[None]:
        """Says of a file that cannot be written which, why, and what is kept."""
        try:
            yield
        except OSError as e:
            step = f"{e.strerror or e}. {self.left}"
            raise InputError("answers", str(self.target), "a place that can be written", step) from e

    @property
    def left(self) -> str:
        """What is kept of a run that stopped, and how to go on."""
        if not self.rows:
            return "No answer is kept"
        rows = "1 row is" if self.rows == 1 else f"{self.rows} rows are"
        return f"{rows} answered and kept; the same command with --resume goes on"

    @contextmanager
    def interruptible(self) -> Iterator[None]:
        """Says what is kept when a run ends early, and gives the part file free."""
        try:
            yield
        except KeyboardInterrupt as e:
            raise type(e)(f"{self.left}.") from e
        except BrokenExecutor as e:
            step = f"use fewer --jobs if memory is short. {self.left}"
            raise InputError("jobs", "a process that ended early", "processes that run to the end", step) from e
        finally:
            if self.file:
                with suppress(OSError):  # what could not be written was said
                    self.file.close()


def _state(file: Path) -> list[int]:
    """Size and time of change of a file; empty if there is no file."""
    return [file.stat().st_size, file.stat().st_mtime_ns] if file.exists() else []
