"""The citations behind one answer: those of the rows and formulas that took part, and of no others."""

import re

import pytest

from alloysolve import Answer, InputError, Tables, solve, sources
from alloysolve.answer.sources import OWN
from alloysolve.published.load import default_tables
from alloysolve.readings.registry import KINDS
from tests.conftest import EXAMPLES

BRASS = {"claim": "silver 999", "mass": "31.18 g", "displaced": "3.64 g"}
KNOWN = {s.key: s for s in default_tables().rows("SOURCES")}
# what a reading of each kind may say, and a work that only answers with such a reading cite
READ = {
    "magnet": ("none", "judgement-magnet"),
    "conductivity": ("27 %IACS", "wait-1962"),
    "resistivity": ("6.3 uohm cm", "nordheim-1931"),
    "surface_composition": ("Ag 99.4 Cu 0.4", "shiraiwa-1966"),
    "resonance": ("7.1 kHz", "hill-1952"),
    "sound_speed": ("4430 m/s", "hill-1952"),
    "sliding_magnet": ("0.28", "thess-2006"),
    "streak": ("yellow", "judgement-surface"),
    "colour": ("yellow", "judgement-surface"),
    "acid": ("14 ct acid: stayed", "acid-kits"),
}


def cited(answer, **options):
    return set(re.findall(r"^\[(\S+)\]", sources(answer, **options), re.MULTILINE))


@pytest.fixture(scope="module")
def brass():
    return solve(BRASS)


def test_metals_alloys_and_formulas_of_the_answer_are_cited_and_no_others(brass):
    found = cited(brass)
    tables = default_tables()
    for symbol in ("Cu", "Zn"):
        assert set(tables.metals[symbol].source.split(";")) <= found
    assert set(tables.families["brass"].source.split(";")) <= found
    assert set(tables.grades[brass.found[0].grades[0]].source.split(";")) <= found
    assert {"tanaka-2001", "iso-3369", "redlich-kister-1948", "judgement-kinds", "memory-iso-9202"} <= found
    shown = {m for row in brass.document.rows for m in (*row.metals, *row.ranges)}
    assert "Pt" not in shown
    assert "pmr-1972" not in found  # platinum metals
    assert not {key for _, key in READ.values()} & found
    assert found <= set(KNOWN)


@pytest.mark.parametrize("kind", KINDS)
def test_a_reading_brings_its_own_citations(brass, kind):
    value, key = READ[kind]
    sized = {"disc": ["38.6 mm", "3.2 mm"]} if kind == "resonance" else {}
    assert key in cited(solve(BRASS | {kind: value} | sized))


def test_a_coin_type_is_cited_with_its_law():
    coin = next(c for c in default_tables().rows("coins") if c.id == "CA-5c-Ni")
    s = solve({"claim": coin.id, "density": "8.90 +- 0.02 g/cm3"})
    assert set(coin.source.split(";")) <= cited(s)


def test_what_was_not_weighed_cites_nothing_about_water():
    assert not {"tanaka-2001", "iso-3369"} & cited(solve({"density": "8.54 +- 0.02 g/cm3"}))


def test_an_answer_read_back_has_the_same_citations(brass):
    for form in ("text", "bibtex"):
        assert sources(Answer.from_json(brass.to_json()), form) == sources(brass, form)


def test_own_rows_are_cited_and_other_tables_are_refused():
    own = Tables([EXAMPLES / "own"])
    s = solve({"density": "8.74 +- 0.02 g/cm3", "conductivity": "27 %IACS"}, tables=own)
    assert "ostermole-works" in cited(s)
    kept = Answer.from_json(s.to_json())
    assert "ostermole-works" in cited(kept, tables=own)
    with pytest.raises(InputError, match="the tables of this answer"):
        sources(kept)


def entries(text):
    """Key -> fields of each entry, and what stands between them, read as BibTeX does: by braces that balance."""
    found, beside, at = {}, "", 0
    while (start := text.find("@", at)) >= 0:
        beside += text[at:start]
        depth, end = 0, text.index("{", start)
        for end in range(end, len(text)):  # noqa: B020
            depth += {"{": 1, "}": -1}.get(text[end], 0) if text[end - 1] != "\\" else 0
            if depth == 0:
                break
        key, _, fields = text[start : end + 1].partition("{")[2].partition(",")
        found[key] = dict(re.findall(r"^  (\w+) = \{\{(.*)\}\},$", fields, re.MULTILINE))
        at = end + 1
    return found, beside + text[at:]


def test_bibtex_has_an_entry_for_each_work_and_judgement_is_a_comment(brass):
    found, beside = entries(sources(brass, "bibtex"))
    works = {k for k in cited(brass) if not k.startswith(OWN)}
    assert set(found) == works | {"alloysolve"}
    for key in works:
        assert re.sub(r"\\([&%$#_{}])", r"\1", found[key]["title"]) == KNOWN[key].citation
        assert not re.search(r"(?<!\\)[&%$#_]", "".join(found[key].values()))
        assert ("from memory" in found[key]["note"]) == (KNOWN[key].seen == "memory")
    assert found["tanaka-2001"]["year"] == "2001"
    assert default_tables().version in found["alloysolve"]["note"]
    assert "judgement-kinds" in beside


def test_an_unknown_form_is_an_error(brass):
    with pytest.raises(InputError, match="bibtex"):
        sources(brass, "ris")
