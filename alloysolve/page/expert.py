"""The part of a page for an expert: all that is needed to check the answer, and to reproduce it."""

from __future__ import annotations

import json
import shlex
from collections.abc import Iterator, Mapping
from typing import Any

from ..answer.document import Document
from ..answer.parts import DensityData, ReadingData
from ..answer.rows import layer_of
from ..words.findings import caveats
from ..words.language import Language
from ..words.names import Names, body_words, layer_phrase
from ..words.numbers import span
from ..words.records import printable
from .parts import EXPERT, Block, Code, Grid, Paragraph, Section

DIGITS = 3


def expert_sections(d: Document, say: Language, code: str) -> list[Section]:
    """Sections on inputs, claim and readings, budget, what fits, settings, tables, and how to reproduce the page.

    `code` is the language of the sheet before them.
    """
    made: list[tuple[str, list[Block]]] = [
        ("inputs", [_pairs(dict(_flat(d.inputs)), say)]),
        ("outcome", _outcome(d, say)),
        ("budget", _budget(d.density, say) if d.density else []),
        ("systems", [_systems(d, say), *map(Paragraph, caveats(d, say))]),
        ("settings", [_pairs(dict(_flat(_settings(d))), say)]),
        ("used", [Grid("", (_say(say, "table"), "SHA-256"), tuple(d.tables.items()))]),
        ("again", _again(d, say, code)),
    ]
    return [Section(EXPERT, _say(say, key), tuple(blocks)) for key, blocks in made if blocks]


def _say(say: Language, key: str, **values: Any) -> str:
    return say.say("page", key, **values)


def _flat(table: Mapping[str, Any], path: str = "") -> Iterator[tuple[str, str]]:
    """Values by dotted name; a list of plain values becomes one text."""
    for key, value in table.items():
        name = f"{path}{key}"
        if isinstance(value, Mapping):
            yield from _flat(value, f"{name}.")
        elif isinstance(value, list) and any(isinstance(v, Mapping) for v in value):
            for i, item in enumerate(value):
                yield from _flat(item, f"{name}[{i}].")
        else:
            yield name, printable(", ".join(map(str, value)) if isinstance(value, list) else str(value))


def _pairs(values: Mapping[str, str], say: Language) -> Grid:
    return Grid("", (_say(say, "field"), _say(say, "value")), tuple(values.items()))


def _settings(d: Document) -> dict[str, Any]:
    """The settings that made the answer, in the form of a settings file."""
    return {name: table for name, table in d.settings.items() if name != "origin"}


def _number(x: Any) -> str:
    return "" if x is None else f"{x + 0.0:.{DIGITS}g}" if isinstance(x, float) else str(x)


def _outcome(d: Document, say: Language) -> list[Block]:
    """Tables of the claim with its p, and of each reading with what it would be as claimed."""
    claim = d.claim
    rows = []
    if claim:
        rows.append((_say(say, "claim_row"), claim.text))
        if claim.decision:
            rows += [
                (_say(say, "answer_row"), say.say("records", claim.decision)),
                (_say(say, "p_row"), _number(claim.p)),
                (_say(say, "alarm_row"), _number(claim.false_alarm)),
                (_say(say, "excluded_row"), _number(claim.excluded)),
            ]
        rows.append((_say(say, "lowest_row"), _number(claim.would_show_below_per_mille)))
    head = tuple(_say(say, key) for key in ("reading", "value", "u", "claimed_value", "sees", "score"))
    readings = tuple(_reading(d, r, say) for r in d.readings)
    shown = tuple((a, b) for a, b in rows if b)
    pairs = [Grid("", (_say(say, "field"), _say(say, "value")), shown)] if shown else []
    return [*pairs, Grid("", head, readings)]


def _reading(d: Document, r: ReadingData, say: Language) -> tuple[str, ...]:
    name = say.say(r.kind, "name") if say.has(r.kind, "name") else r.kind
    name = f"{name}, {printable(r.place)}" if r.place else name
    sees = f"{_number(float(r.sees_um))} um" if r.sees_um else say.say("readings", r.sees.replace(" ", "_"))
    u = f"{_number(r.u)} {r.unit}" if r.u is not None else ""
    return name, printable(r.text), u, _claimed(d, r, say), sees, _number(r.score_under_claim)


def _claimed(d: Document, r: ReadingData, say: Language) -> str:
    """The value that a piece as claimed would give."""
    if r.name == "weighing":
        return _span(d.claim.density_g_cm3, "g/cm3", say) if d.claim and d.claim.density_g_cm3 else ""
    return _span(r.as_claimed, r.unit_shown, say) if r.as_claimed else ", ".join(r.answers_as_claimed)


def _span(values: tuple[float, float], unit: str, say: Language) -> str:
    low, high = (f"{x:.4g}" for x in values)
    return f"{low if low == high else _say(say, 'a_span', low=low, high=high)} {unit}"


def _budget(w: DensityData, say: Language) -> list[Block]:
    """Table of the density and of each cause of its uncertainty."""
    value = f"{w.value} ({_say(say, 'a_span', low=w.low, high=w.high)}), u {_number(w.u)}"
    rows = tuple(
        (
            say.say("weigh", r.part),
            f"{_number(r.size)} {r.unit}",
            _number(r.moves_density_percent) + (f" ({_say(say, 'one_sided')})" if r.one_sided else ""),
        )
        for r in w.budget
    )
    notes = [say.say("weigh", note) for note in w.notes]
    head = tuple(_say(say, key) for key in ("part", "size", "moves"))
    return [Paragraph(" ".join([f"{_say(say, 'density_row')}: {value}.", *notes])), Grid("", head, rows)]


def _systems(d: Document, say: Language) -> Grid:
    """Table of every system above one in a thousand, with what lies on or in it."""
    rows, names = [], Names.of(d)
    for x in d.systems:
        metals = ", ".join(f"{m} {span(low or 0.0, high or 0.0, 1)}" for m, (low, _, high) in x.ranges.items())
        body = body_words(names, x.constructions[0].family, x.metals, say)
        rows.append(
            (
                _number(x.probability),
                _number(x.bayes_factor_against_next),
                metals,
                body + layer_phrase(layer_of(x.constructions), names, say),
                ", ".join(x.nearest_grades),
            )
        )
    rows.append((_number(d.something_else), "", "", say.say("table", "something_else"), ""))
    head = tuple(_say(say, key) for key in ("probability", "factor", "metals_head", "construction", "grades"))
    return Grid("", head, tuple(rows))


def _again(d: Document, say: Language, code: str) -> list[Block]:
    """Both files that the command reads, and the command itself."""
    command = ["alloysolve", "page", "piece.json", "--settings", "settings.json", "--prior", d.prior.name]
    command += ["--language", code] if code != d.settings["answers"]["language"] else []
    return [
        Paragraph(_say(say, "version", version=d.version, prior=d.prior.name, sha256=d.prior.sha256)),
        Paragraph(_say(say, "save_piece")),
        Code(_json(d.inputs)),
        Paragraph(_say(say, "save_settings")),
        Code(_json(_settings(d))),
        Paragraph(_say(say, "then")),
        Code(shlex.join(command)),
    ]


def _json(document: Mapping[str, Any]) -> str:
    """JSON that can be read back on any machine, one key a line, so that it fits on a sheet.

    What is beyond ASCII is escaped, so that nothing turns or hides.
    """
    lines = [f"{json.dumps(key)}: {json.dumps(value, ensure_ascii=True)}" for key, value in document.items()]
    return "{\n " + ",\n ".join(lines) + "\n}" if lines else "{}"
