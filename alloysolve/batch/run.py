"""Many pieces at once: rows in, answers out, in order, on any executor; an interrupted run can be resumed."""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator, Mapping
from concurrent.futures import Executor, Future
from dataclasses import dataclass, field
from itertools import chain, count, islice
from pathlib import Path
from typing import Any

from ..advice.weighed import about_weighed
from ..answer.document import Document
from ..answer.rows import SYSTEM
from ..answer.solution import Solution, solve
from ..arrays import usual_errors
from ..errors import AlloysolveError, InputError
from ..inference.commonness import NamedPrior, named_prior
from ..inputs.bare import with_units
from ..inputs.piece import Piece
from ..inputs.settings import Settings, settings_in_use, tables_of
from ..words.batch import heads, row_words
from ..words.language import language
from .answers import BEST, NOTHING, Layout, answer_row
from .files import WRITTEN, Row, form_of_file, open_source
from .kept_run import Run
from .looked_up import looked_up_answers
from .workers import workers

CHUNK = 100  # rows
AHEAD = 4  # chunks under way per worker: enough to keep it busy, few enough for flat memory


@dataclass
class Summary:
    """The outcome of a run.

    Attributes
    ----------
    rows : looked at. lacking : what no column of the list holds. decisions, firsts : how many of each decision
        ("no claim" among them) and of what is likeliest: "as claimed", "finer than claimed" or a system. notes,
        cautions : how many of each code on the weighing, and of each caution. errors : how many rows could not
        be used, by the field that was wrong; first_errors : the first few, in words.
    """

    rows: int = 0
    decisions: Counter[str] = field(default_factory=Counter)
    firsts: Counter[str] = field(default_factory=Counter)
    notes: Counter[str] = field(default_factory=Counter)
    cautions: Counter[str] = field(default_factory=Counter)
    errors: Counter[str] = field(default_factory=Counter)
    first_errors: list[str] = field(default_factory=list)
    lacking: tuple[str, ...] = ()

    def add(self, answer: Mapping[str, Any]) -> None:
        """Counts one answer."""
        self.rows += 1
        if answer["error"]:
            self.errors[str(answer["error"]).split(":")[0]] += 1
            if len(self.first_errors) < 3:
                self.first_errors.append(f"{answer['line']}: {answer['error']}")
            return
        self.decisions[answer["decision"] or "no claim"] += 1
        self.notes.update(answer["notes"])
        self.cautions.update(answer["cautions"])
        if answer["rows"]:
            first = answer["rows"][0]
            self.firsts[" ".join(first["metals"]) if first["what"] == SYSTEM else first["what"]] += 1

    def to_dict(self) -> dict[str, Any]:
        """The outcome in the types of JSON."""
        return {
            "rows": self.rows,
            "lacking": list(self.lacking),
            "decisions": dict(self.decisions),
            "firsts": dict(self.firsts),
            "notes": dict(self.notes),
            "cautions": dict(self.cautions),
            "errors": dict(self.errors),
            "first_errors": list(self.first_errors),
        }


def solve_many(
    source: str | Path,
    answers: str | Path,
    executor: Executor | None = None,
    settings: Settings | None = None,
    prior: str | None = None,
    *,
    jobs: int = 1,
    resume: bool = False,
    told: Callable[[int], object] | None = None,
    chunk: int = CHUNK,
    wide: bool = False,
    overwrite: bool = False,
) -> Summary:
    """Answers every piece of a file into another file, row by row in the same order.

    Parameters
    ----------
    source : a list as a spreadsheet or a program writes it: CSV or other delimited text, Excel, JSON lines or Parquet.
        Columns are the fields of a piece, those of readings with a dot ("conductivity.frequency"), or named in the
        settings; other columns are carried through, unless their name is a slip for one of these.
    answers : CSV, Excel, JSON lines or Parquet. It is written as .part beside the target and renamed when all is done.
    executor : any ``concurrent.futures.Executor``, such as a cluster's; otherwise `jobs` processes of this machine.
    settings, prior : as in `solve`.
    resume : continue where an interrupted run of the same, unchanged file and settings stopped.
    told : called with the number of rows answered since the last call.
    chunk : rows that a worker takes at a time, and that are written together.
    wide : codes and numbers as further columns; JSON lines always hold them.
    overwrite : replace an existing file; the list itself is never replaced.

    A row that cannot be used is given an error message with its line; the other rows are processed. Memory does not
    grow with the file. The answer of a row depends on nothing but the row, the settings and the prior. Probabilities
    usually lie within 0.005, and hardly ever beyond 0.01, of an integral that leaves nothing out.

    Raises
    ------
    InputError
        For files that cannot be read or written, a column that is a slip, and a run to resume that was another one.

    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     pieces = Path(folder, "pieces.csv")
    ...     _ = pieces.write_text("claim,mass,displaced\\nsilver 999,31.18,3.64")
    ...     solve_many(pieces, Path(folder, "answers.csv"), settings=Settings()).decisions["contradicted"]
    1
    """
    settings = settings_in_use(settings)
    check_target(source, answers, overwrite)
    opened = open_source(source, dict(settings.columns))
    layout = Layout(heads(language(settings.answers.language)), opened.own, wide, opened.delimiter, opened.mark)
    run = Run(Path(source), Path(answers), settings, named_prior(prior or settings.answers.prior), layout)
    summary = _so_far(run.begin(resume, overwrite))
    summary.lacking = opened.lacking
    rows = islice(opened.rows(), summary.rows, None)
    if told and summary.rows:
        told(summary.rows)
    with run.interruptible(), workers(executor, jobs, -(-opened.count // chunk)) as (pool, busy):
        for done in _answered(rows, pool, busy, chunk, (settings, run.prior)):
            for answer in done:
                summary.add(answer)
            run.keep(done, summary.to_dict())
            if told:
                told(len(done))
        run.finish()
    return summary


def _so_far(kept: Mapping[str, Any]) -> Summary:
    """The outcome so far of a run, from its `to_dict`; that of a new run from nothing."""
    counted = ("decisions", "firsts", "notes", "cautions", "errors")
    counts: dict[str, Any] = {name: Counter(kept.get(name, {})) for name in counted}
    return Summary(rows=kept.get("rows", 0), first_errors=list(kept.get("first_errors", ())), **counts)


def check_target(source: str | Path, answers: str | Path, overwrite: bool) -> None:
    """Refuses a place for answers that is the list itself, a folder, or a file that nobody said to replace."""
    target = Path(answers)
    form_of_file(target, "answers", WRITTEN)
    if target.is_dir():
        raise InputError("answers", str(target), "a file, and this is a folder", "add a name to it")
    if target.exists() and Path(source).exists() and target.samefile(source):
        raise InputError("answers", str(target), "another file than the list itself", "choose another name")
    if target.exists() and not overwrite:
        raise InputError("answers", str(target), "a new file", "choose another name, or add --overwrite to replace it")


def place_for_answers(source: str | Path, again: bool = False) -> Path:
    """The file beside a list for its answers: shelf-answers.csv beside shelf.csv.

    Where it exists, the next that does not, shelf-answers-2.csv; `again` always names the first, to replace or resume.
    """
    file = Path(source)
    ending = file.suffix.lower() if file.suffix.lower() in WRITTEN else ".csv"
    marks = chain([""], (f"-{n}" for n in count(2)))
    places = (file.with_name(f"{file.stem}-answers{mark}{ending}") for mark in marks)
    return next(place for place in places if again or not place.exists())


def _answered(
    rows: Iterator[Row], pool: Executor | None, jobs: int, size: int, how: tuple[Settings, NamedPrior]
) -> Iterator[list[dict[str, Any]]]:
    """Answers chunk by chunk in order, while a few chunks are being worked on."""
    chunks = iter(lambda: list(islice(rows, size)), [])
    if pool is None:
        yield from (answer_rows(chunk, *how) for chunk in chunks)
        return
    waiting: deque[Future[list[dict[str, Any]]]] = deque()
    for chunk in chunks:
        waiting.append(pool.submit(answer_rows, chunk, *how))
        if len(waiting) >= AHEAD * jobs:
            yield waiting.popleft().result()
    while waiting:
        yield waiting.popleft().result()


@usual_errors
def answer_rows(rows: Iterable[Row], settings: Settings, prior: str | NamedPrior) -> list[dict[str, Any]]:
    """Answers of some rows, each with its own answer or error; this is what a worker does."""
    prior, say = named_prior(prior), language(settings.answers.language)
    pieces: dict[int, Piece] = {}
    documents: dict[int, Document] = {}
    said: dict[int, str] = {}
    out: dict[int, dict[str, Any]] = {}
    for at, row in enumerate(rows):
        name, said[at] = (str(row.fields.get(key) or "") for key in ("name", "claim"))
        out[at] = {"line": row.number, "name": name, **NOTHING, "own": dict(row.own), "error": None}
        try:
            if row.wrong:
                out[at]["error"] = f"row: {row.wrong}"
                continue
            pieces[at] = Piece.from_dict(with_units(row.fields, settings))
            out[at]["name"] = pieces[at].name
        except AlloysolveError as e:
            out[at]["error"] = " ".join(str(e).split())
    looked_up = looked_up_answers(pieces, settings, tables_of(settings), prior)
    for at, piece in pieces.items():
        try:
            if at in looked_up:
                answer, documents[at] = looked_up[at]
            else:
                solved = solve(piece, settings, prior=prior)
                answer, documents[at] = brief(solved), solved.document
            out[at] |= answer
        except AlloysolveError as e:
            out[at]["error"] = " ".join(str(e).split())
    for at, answer in out.items():
        answer["words"] = row_words(answer, said[at], documents.get(at), say, whole=at not in looked_up)
    return list(out.values())


def brief(s: Solution) -> dict[str, Any]:
    """The answer to a piece that was solved as a row."""
    systems = [(x.metals, x.probability, x.ranges) for x in s.found[:BEST]]
    notes = about_weighed(s.piece, s.weighing, s.settings)
    return answer_row(s.document, s.decision, notes, systems)
