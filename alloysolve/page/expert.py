"""The part of a page for an expert: all that is needed to check the answer, and to reproduce it."""

from __future__ import annotations

import json
import shlex
from collections.abc import Iterator, Mapping
from typing import Any

from ..answer.document import document
from ..answer.solution import Solution
from ..words.findings import body_words, caveats
from ..words.language import Language
from ..words.numbers import span
from ..words.records import printable
from .content import layer_words
from .parts import EXPERT, Block, Code, Grid, Paragraph, Section

DIGITS = 3


def expert_sections(s: Solution, say: Language) -> list[Section]:
    """Sections on inputs, claim and readings, budget, what fits, settings, tables, and how to reproduce the page."""
    d = document(s)
    made: list[tuple[str, list[Block]]] = [
        ("inputs", [_pairs(dict(_flat(d["inputs"])), say)]),
        ("outcome", _outcome(s, d, say)),
        ("budget", _budget(s, d, say)),
        ("systems", [_systems(s, say), *map(Paragraph, caveats(s, say))]),
        ("settings", [_pairs(dict(_flat(_settings(s))), say)]),
        ("used", [Grid("", (_say(say, "table"), "SHA-256"), tuple(d["tables"].items()))]),
        ("again", _again(s, d, say)),
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


def _settings(s: Solution) -> dict[str, Any]:
    """The settings that made the answer, without the place where records are kept, which is nobody else's business."""
    return {name: table for name, table in s.settings.to_dict().items() if name != "records"}


def _number(x: Any) -> str:
    return "" if x is None else f"{x:.{DIGITS}g}" if isinstance(x, float) else str(x)


def _outcome(s: Solution, d: Mapping[str, Any], say: Language) -> list[Block]:
    """Tables of the claim with its p, and of each reading with what it would be as claimed."""
    claim = d["claim"]
    rows = []
    if claim:
        rows.append((_say(say, "claim_row"), claim["text"]))
        if "decision" in claim:
            rows += [
                (_say(say, "answer_row"), say.say("records", claim["decision"])),
                (_say(say, "p_row"), _number(claim["p"])),
                (_say(say, "alarm_row"), _number(claim["false_alarm"])),
                (_say(say, "excluded_row"), _number(claim["excluded"])),
            ]
        rows.append((_say(say, "lowest_row"), _number(claim["would_show_below_per_mille"])))
    head = tuple(_say(say, key) for key in ("reading", "value", "u", "claimed_value", "sees", "score"))
    readings = tuple(_reading(s, r, say) for r in d["readings"])
    shown = tuple((a, b) for a, b in rows if b)
    pairs = [Grid("", (_say(say, "field"), _say(say, "value")), shown)] if shown else []
    return [*pairs, Grid("", head, readings)]


def _reading(s: Solution, r: Mapping[str, Any], say: Language) -> tuple[str, ...]:
    name = say.say(r["kind"], "name") if say.has(r["kind"], "name") else r["kind"]
    if r["place"]:
        name = f"{name}, {printable(r['place'])}"
    sees = f"{_number(float(r['sees_um']))} um" if r["sees_um"] else say.say("readings", r["sees"].replace(" ", "_"))
    u = f"{_number(r['u'])} {r['unit']}" if r["u"] is not None else ""
    return name, printable(r["text"]), u, _claimed(s, r, say), sees, _number(r["score_under_claim"])


def _claimed(s: Solution, r: Mapping[str, Any], say: Language) -> str:
    """The value that a piece as claimed would give."""
    if s.claimed is None:
        return ""
    if r["name"] == "weighing":
        return _span(s.advice.claim_density, "g/cm3", say) if s.advice.claim_density else ""
    observed = next(o for o in s.evidence.observed if o.name == r["name"])
    values = observed.shown(s.claimed)
    if observed.words:
        return ", ".join(observed.words[int(n)] for n in sorted(set(values.tolist())))
    return _span((float(values.min()), float(values.max())), observed.unit_shown, say)


def _span(values: tuple[float, float], unit: str, say: Language) -> str:
    low, high = (f"{x:.4g}" for x in values)
    return f"{low if low == high else _say(say, 'a_span', low=low, high=high)} {unit}"


def _budget(s: Solution, d: Mapping[str, Any], say: Language) -> list[Block]:
    """Table of the density and of each cause of its uncertainty."""
    w = d["density"]
    if w is None:
        return []
    value = f"{w['value']} ({_say(say, 'a_span', low=w['low'], high=w['high'])}), u {_number(w['u'])}"
    rows = tuple(
        (
            say.say("weigh", r["part"]),
            f"{_number(r['size'])} {r['unit']}",
            _number(r["moves_density_percent"]) + (f" ({_say(say, 'one_sided')})" if r["one_sided"] else ""),
        )
        for r in w["budget"]
    )
    notes = [say.say("weigh", note) for note in w["notes"]]
    head = tuple(_say(say, key) for key in ("part", "size", "moves"))
    return [Paragraph(" ".join([f"{_say(say, 'density_row')}: {value}.", *notes])), Grid("", head, rows)]


def _systems(s: Solution, say: Language) -> Grid:
    """Table of every system above one in a thousand, each with its likeliest construction."""
    rows = []
    for x in s.found:
        if x.probability < 1e-3:
            continue
        c = x.constructions[0]
        metals = ", ".join(f"{m} {span(low, high, 1)}" for m, (low, _, high) in x.ranges.items())
        body = body_words(s, c.family, x.metals, say)
        rows.append(
            (
                _number(float(x.probability)),
                _number(float(x.bayes_factor_against_next)),
                metals,
                body + layer_words(s, c, say),
                ", ".join(x.grades),
            )
        )
    rows.append((_number(float(s.other)), "", "", say.say("table", "something_else"), ""))
    head = tuple(_say(say, key) for key in ("probability", "factor", "metals_head", "construction", "grades"))
    return Grid("", head, tuple(rows))


def _again(s: Solution, d: Mapping[str, Any], say: Language) -> list[Block]:
    """Both files that the command reads, and the command itself."""
    prior = d["prior"]
    command = ["alloysolve", "page", "piece.json", "--settings", "settings.json", "--prior", prior["name"]]
    return [
        Paragraph(_say(say, "version", version=d["version"], prior=prior["name"], sha256=prior["sha256"])),
        Paragraph(_say(say, "save_piece")),
        Code(_json(d["inputs"])),
        Paragraph(_say(say, "save_settings")),
        Code(_json(_settings(s))),
        Paragraph(_say(say, "then")),
        Code(shlex.join(command)),
    ]


def _json(document: Mapping[str, Any]) -> str:
    """JSON that can be read back on any machine: what is beyond ASCII is escaped, so that nothing turns or hides."""
    return json.dumps(document, indent=1, ensure_ascii=True)
