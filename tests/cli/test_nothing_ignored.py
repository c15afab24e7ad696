"""Every key and option changes an answer, or is refused: nothing is accepted and ignored."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields
from typing import Any

import numpy as np
import pytest

from alloysolve.alloys.families import all_bodies
from alloysolve.answer.solution import solve
from alloysolve.entry import entries
from alloysolve.errors import AlloysolveError
from alloysolve.inference.observe import evidence_of
from alloysolve.inputs.claim import parse_claim
from alloysolve.inputs.piece import SCHEMA, SHAPES, Piece
from alloysolve.inputs.schema import IN_ROUTINE, SOUNDED, WEIGHED
from alloysolve.inputs.settings import Settings
from alloysolve.page.build import page_of, page_text, with_shop
from alloysolve.pieces.candidates import Candidates
from alloysolve.published.load import default_tables
from alloysolve.readings.registry import KINDS
from tests.conftest import Run

TABLES = default_tables()
SIZES = {
    "bar": "50x28x2.6 mm",
    "disc": "38x2.7 mm",
    "ring": "30x20x7.6 mm",
    "rod": "10x38 mm",
    "sphere": "18 mm",
    "tube": "20x10x13 mm",
}
WEIGHING = {"mass": "31.10 g", "displaced": "3.02 g"}
CLAIMED = {"claim": "silver 925", **WEIGHING}


def run_json(run: Callable[..., Run], *arguments: str) -> dict[str, Any]:
    done = run(*arguments)
    assert (done.code, done.err) == (0, ""), done.err
    found: dict[str, Any] = json.loads(done.out)
    return {key: part for key, part in found.items() if key not in ("inputs", "settings")}


# --- weigh

# option -> what is added to "weigh 31.10 3.02"; mass and displaced are arguments
OF_WEIGH: Mapping[str, tuple[str, ...]] = {
    "liquid_density": ("--liquid-density", "0.79"),
    "water": ("--water", "15"),
    "wetting": ("--wetting", "brushed"),
    "scale_step": ("--scale-step", "0.1 g"),
    "count": ("--count", "3"),
    "parts": ("--parts", "diamond 1 carat"),
    **{shape: (f"--{shape}", sizes) for shape, sizes in SIZES.items()},
}


def test_every_option_of_weigh_is_looked_at_here() -> None:
    assert set(OF_WEIGH) | {"mass", "displaced", "in_water", "claim"} == set(WEIGHED)


@pytest.mark.parametrize("option", OF_WEIGH)
def test_every_option_changes_a_weighing(run: Callable[..., Run], option: str) -> None:
    without = run_json(run, "weigh", "31.10", "3.02", "--json")
    assert run_json(run, "weigh", "31.10", "3.02", *OF_WEIGH[option], "--json") != without


def test_numbers_in_water_and_the_claim_change_a_weighing(run: Callable[..., Run]) -> None:
    either = [run_json(run, "weigh", *given, "--json") for given in (("31.10", "3.02"), ("31.10", "3.03"))]
    assert either[0] != either[1]
    assert run_json(run, "weigh", "31.10", "--in-water", "28.08", "--json") != either[0]
    assert "fineness" in run("weigh", "31.10", "3.02", "--claim", "silver 925").out
    assert "fineness" not in run("weigh", "31.10", "3.02").out


@pytest.mark.parametrize("field", sorted(set(SCHEMA) - set(WEIGHED)))
def test_weigh_takes_no_option_that_it_does_not_use(run: Callable[..., Run], field: str) -> None:
    assert run("weigh", "31.10", "3.02", f"--{field.replace('_', '-')}", "white").code == 2


# --- routine and resonance


# key -> a piece without it and the value that changes what a routine shows
OF_ROUTINE: Mapping[str, tuple[Mapping[str, Any], Any]] = {
    "claim": (CLAIMED, "gold 750"),
    "mass": (CLAIMED, "2 g"),
    "liquid_density": (CLAIMED, "2.9"),
    "wetting": (CLAIMED, "dry dip"),
    "scale_step": (CLAIMED, "0.1 g"),
    "hollow": (CLAIMED, "possible"),
    **{shape: (CLAIMED, sizes) for shape, sizes in SIZES.items()},
}


@pytest.mark.slow
@pytest.mark.parametrize("key", IN_ROUTINE)
def test_every_option_changes_a_routine(run: Callable[..., Run], key: str) -> None:
    def shown(given: Mapping[str, Any]) -> dict[str, Any]:
        options = [x for name, v in given.items() if name != "displaced" for x in (f"--{name.replace('_', '-')}", v)]
        found = run_json(run, "routine", *options, "--json")
        return {name: part for name, part in found.items() if name not in ("claim", "scale_step_g")}

    without, value = OF_ROUTINE[key]
    assert shown({**without, key: value}) != shown(without)


@pytest.mark.parametrize("command", ["routine", "resonance"])
def test_other_commands_take_no_option_that_they_do_not_use(run: Callable[..., Run], command: str) -> None:
    used = {"routine": IN_ROUTINE, "resonance": SOUNDED}[command]
    said = run(command, "--help").out
    offered = {name for name in SCHEMA if f"--{name.replace('_', '-')} " in said}
    assert offered == set(used)


# --- settings


def settings_keys(record: type = Settings, path: str = "") -> Iterator[str]:
    for name, item in entries(record).items():
        if item.table:
            yield from settings_keys(item.table, f"{path}{name}.")
        else:
            yield path + name


KNOWN_GOOD = {"claim": "silver 999", "mass": "31.10 g", "displaced": "2.96 g"}
PAGE, X_RAYS, BARE = "page", "solve with X-rays", "solve with a bare number"
# key -> a value, beside what, and where it shows
OF_SETTINGS: Mapping[str, tuple[Any, Mapping[str, Any], str]] = {
    "scale.step": ("0.1 g", {}, "weigh"),
    "scale.set_up": ("below the balance", {}, "weigh"),
    "scale.thread": ("0.3 mm", {}, "weigh"),
    "scale.water": ("15 degC", {}, "weigh"),
    "scale.air": ("0.0011 g/cm3", {}, "weigh"),
    "scale.wetting": ("dry dip", {}, "weigh"),
    "scale.known_good.claim": ("silver 925", {"scale": {"known_good": KNOWN_GOOD}}, "weigh"),
    "scale.known_good.mass": ("31.30 g", {"scale": {"known_good": KNOWN_GOOD}}, "weigh"),
    "scale.known_good.displaced": ("2.99 g", {"scale": {"known_good": KNOWN_GOOD}}, "weigh"),
    "scale.known_good.on": ("2026-03-12", {"scale": {"known_good": KNOWN_GOOD}}, PAGE),
    "scale.check_days": (7, {"scale": {"known_good": {**KNOWN_GOOD, "on": "2026-03-02"}}}, "weigh"),
    "readings.own": (["conductivity"], {}, "routine"),
    "readings.conductivity.frequency": ("60 kHz", {}, "solve"),
    "readings.conductivity.u": ("5 %", {}, "solve"),
    "readings.conductivity.unit": ("MS/m", {"readings": {"conductivity": {"unit": "%IACS"}}}, BARE),
    "answers.false_alarm": ("1 in 100", {}, "solve"),
    "readings.surface_composition.listed": ("Ag Cu", {}, X_RAYS),
    "answers.language": ("xx", {}, "refused"),
    "answers.paper": ("A5", {}, PAGE),
    "answers.prior": ("flat", {}, "solve"),
    "page.header": ("The shop", {}, PAGE),
    "page.logo": ("logo.png", {}, "refused"),
    "tables.extra": (["none.csv"], {}, "refused"),
    "records.folder": ("kept", {}, "records"),
    "columns": ({"density": "Dichte"}, {}, "batch"),
}


def shop_of(key: str, value: Any, beside: Mapping[str, Any]) -> dict[str, Any]:
    out: dict[str, Any] = json.loads(json.dumps(beside))
    *tables, name = key.split(".")
    at = out
    for table in tables:
        at = at.setdefault(table, {})
    at[name] = value
    return out


def test_every_setting_is_looked_at_here() -> None:
    assert set(OF_SETTINGS) == set(settings_keys())


@pytest.mark.parametrize("key", OF_SETTINGS)
def test_every_setting_changes_an_answer_or_is_refused(run: Callable[..., Run], tmp_path: Any, key: str) -> None:
    value, beside, where = OF_SETTINGS[key]
    files = []
    for number, document in enumerate((beside, shop_of(key, value, beside))):
        files.append(tmp_path / f"{number}.json")
        files[-1].write_text(json.dumps(document), encoding="utf-8")
    plain, changed = (str(f) for f in files)
    if where == "weigh":
        number = "28.08" if value == "below the balance" else "3.02"
        without = run_json(run, "weigh", "31.10", number, "--json", "--settings", plain) if number == "3.02" else None
        assert run_json(run, "weigh", "31.10", number, "--json", "--settings", changed) != without
        if number == "28.08":  # as the mass in water; it cannot be what a tared beaker gained
            in_water = run_json(run, "weigh", "31.10", "--in-water", number, "--json", "--settings", plain)
            assert run_json(run, "weigh", "31.10", number, "--json", "--settings", changed) == in_water
    elif where == "routine":
        of_routine = ("routine", "--claim", "silver 925", "--mass", "31.1", "--json", "--settings")
        assert run_json(run, *of_routine, changed)["readings"] != run_json(run, *of_routine, plain)["readings"]
    elif where == "records":
        assert run("records", "--settings", changed).out != run("records", "--settings", plain).out
    elif where == "batch":
        pieces = tmp_path / "list.csv"
        pieces.write_text("claim,Dichte\nsilver 999,8.53 g/cm3\n", encoding="utf-8")
        told = [run("batch", str(pieces), "--jobs", "1", "--settings", file) for file in (plain, changed)]
        assert 'Not read, only carried through: "Dichte"' in told[0].err
        assert "Dichte" not in told[1].err
        assert told[1].out.startswith("1 row answered: 1 contradicted.")
    else:
        read = {"surface_composition": "Ag 92.5 Cu 7.5"} if where == X_RAYS else {"conductivity": "95 %IACS"}
        read = {"conductivity": "50"} if where == BARE else read
        piece = {**CLAIMED, **read}
        shops = [Settings.from_dict(json.loads(f.read_text(encoding="utf-8"))) for f in files]
        if where == "refused":
            with pytest.raises(AlloysolveError):
                page_text(with_shop(page_of(solve(piece, shops[1]).document), shops[1], "undecided", False))
            return
        found = [solve(piece, shop) for shop in shops]
        if where in ("solve", X_RAYS, BARE):
            documents = [json.loads(s.to_json()) for s in found]
            for document in documents:
                del document["settings"]
            assert documents[0] != documents[1]
        else:
            pages = [
                with_shop(page_of(s.document), shop, "undecided", False) for s, shop in zip(found, shops, strict=True)
            ]
            assert pages[0] != pages[1]


# --- pieces and readings

# field -> a value, and the piece beside which it changes what `solve` finds
OF_PIECE: Mapping[str, tuple[Any, Mapping[str, Any]]] = {
    "claim": ("gold 750", WEIGHING),
    "mass": ("40 g", CLAIMED),
    "displaced": ("3.2 g", CLAIMED),
    "in_water": ("28.0 g", {"claim": "silver 925", "mass": "31.10 g", "magnet": "none"}),
    "density": ("9 g/cm3", {"claim": "silver 925", "magnet": "none"}),
    "liquid_density": ("0.9 g/cm3", CLAIMED),
    "water": ("12 degC", CLAIMED),
    "wetting": ("dry dip", CLAIMED),
    "scale_step": ("0.1 g", CLAIMED),
    "count": (3, CLAIMED),
    "parts": (["diamond 1 carat"], CLAIMED),
    "hollow": ("possible", CLAIMED),
    "proof": (True, CLAIMED),
    "current_money": (True, {"claim": "silver 925", **WEIGHING, "displaced": "3.3 g"}),
    **{shape: (sizes, CLAIMED) for shape, sizes in SIZES.items()},
    "name": ("a bar", CLAIMED),
    "note": ("from a drawer", CLAIMED),
}


def test_every_field_of_a_piece_is_looked_at_here() -> None:
    assert set(OF_PIECE) == {f.name for f in fields(Piece)} - {"reading"}
    assert set(SIZES) == set(SHAPES)


@pytest.mark.parametrize("field", OF_PIECE)
def test_every_field_of_a_piece_changes_the_answer(solved_once: None, field: str) -> None:
    from alloysolve.answer import solution

    value, beside = OF_PIECE[field]
    found = [solution.solve(Piece(**given), Settings()) for given in (beside, {**beside, field: value})]
    if field in ("name", "note"):
        pages = [page_text(page_of(s.document)) for s in found]
        assert pages[0].split("To make this page again")[0] != pages[1].split("To make this page again")[0]
        return
    documents = [json.loads(s.to_json()) for s in found]
    for document in documents:
        del document["inputs"]
    assert documents[0] != documents[1]


# kind and key -> the table without it, and its value
RESISTIVITY = {"value": "2.1 uohm cm"}
OF_READINGS: Mapping[str, Mapping[str, tuple[Mapping[str, Any], Any]]] = {
    "magnet": {"value": ({"value": "none"}, "strong")},
    "conductivity": {
        "value": ({"value": "50 %IACS"}, "90 %IACS"),
        "u": ({"value": "50 %IACS"}, "4 %"),
        "unit": ({"value": 30, "unit": "%IACS"}, "MS/m"),
        "frequency": ({"value": "50 %IACS"}, "500 kHz"),
        "temperature": ({"value": "50 %IACS"}, "35 degC"),
    },
    "resistivity": {
        "value": (RESISTIVITY, "9 uohm cm"),
        "u": (RESISTIVITY, "4 %"),
        "unit": ({"value": 20, "unit": "uohm cm"}, "nohm m"),
        "frequency": (RESISTIVITY, "60 kHz"),
        "temperature": (RESISTIVITY, "35 degC"),
    },
    "surface_composition": {
        "value": ({"value": "Ag 92 Cu 8"}, "Ag 80 Cu 20"),
        "u": ({"value": "Ag 92 Cu 8"}, "2"),
        "listed": ({"value": "Ag 92 Cu 8"}, "Zn"),
    },
    "resonance": {
        "value": ({"value": "5 kHz"}, "9 kHz"),
        "u": ({"value": "5 kHz"}, "5 %"),
    },
    "sound_speed": {
        "value": ({"value": "3650 m/s"}, "4000 m/s"),
        "u": ({"value": "3650 m/s"}, "5 %"),
        "time": ({"time": "1.4 us", "thickness": "2.6 mm"}, "1.6 us"),
        "thickness": ({"time": "1.4 us", "thickness": "2.6 mm"}, "2.4 mm"),
        "shown": ({"shown": "4 mm", "set_speed": "5920 m/s", "thickness": "2.6 mm"}, "4.4 mm"),
        "set_speed": ({"shown": "4 mm", "set_speed": "5920 m/s", "thickness": "2.6 mm"}, "6300 m/s"),
    },
    "streak": {"value": ({"value": "white"}, "yellow")},
    "colour": {"value": ({"value": "white"}, "yellow")},
    "acid": {"value": ({"value": "as silver"}, "as neither")},
}
TIMED = {"time": "1.1 s", "known_good_time": "4.4 s"}
OF_READINGS = {
    **OF_READINGS,
    "sliding_magnet": {
        "value": ({"value": "0.3"}, "0.6"),
        "u": ({"value": "0.3"}, "0.1"),
        "time": (TIMED, "2 s"),
        "known_good_time": (TIMED, "6 s"),
        "wood_time": (TIMED, "0.4 s"),
        "known_good": (TIMED, "gold 999"),
    },
}
RECORDED = ("resonance", "recording")  # a file in place of the value: tests/readings/test_resonance.py


def test_every_key_of_a_reading_is_looked_at_here() -> None:
    every = {(kind, key) for kind, of in KINDS.items() for key in of.entries}
    here = {(kind, key) for kind, of in OF_READINGS.items() for key in of}
    assert every == here | {(kind, "place") for kind in KINDS} | {RECORDED}


def scored(kind: str, table: Mapping[str, Any]) -> np.ndarray[Any, Any]:
    """How well a reading agrees with many bodies, bare."""
    piece = Piece(**CLAIMED, disc="38x2.7 mm", **{kind: dict(table)})
    evidence = evidence_of(piece, Settings(), TABLES, None, parse_claim(piece.claim, TABLES))
    bodies = all_bodies(TABLES)
    some = np.arange(0, len(bodies.v), 50)
    return evidence.pdf(Candidates.bare(bodies, evidence.layers, evidence.form, some))


@pytest.mark.parametrize(("kind", "key"), [(kind, key) for kind, of in OF_READINGS.items() for key in of])
def test_every_key_of_a_reading_changes_how_bodies_agree(kind: str, key: str) -> None:
    without, value = OF_READINGS[kind][key]
    assert not np.allclose(scored(kind, without), scored(kind, {**without, key: value}), rtol=1e-6)


def test_a_place_is_named_in_the_answer() -> None:
    piece = Piece(**CLAIMED, magnet={"value": "none", "place": "at the rim"})
    assert [row["place"] for row in solve(piece, Settings()).reading_rows()] == ["", "at the rim"]


# --- what cannot be used together is refused


@pytest.mark.parametrize(
    ("arguments", "path"),
    [
        (("solve", "--density", "10.4", "--water", "20"), "water"),
        (("solve", "--density", "10.4", "--wetting", "brushed"), "wetting"),
        (("solve", "--density", "10.4", "--liquid-density", "0.79"), "liquid_density"),
        (("solve", "--mass", "31", "--displaced", "3", "--water", "20", "--liquid-density", "0.79"), "water"),
        (("weigh", "31", "3", "--in-water", "28"), "in_water"),
        (("weigh", "31", "3", "--known-good", "--claim", "silver 925", "--json"), "--json"),
        (("weigh", "31", "3", "--save"), "--save"),
        (("solve", "--density", "10.4", "--csv"), "--csv"),
        (("solve", "--density", "10.4", "--list", "--csv", "--json"), "--csv"),
        (("solve", "--density", "10.4", "--ask", "--json"), "--json"),
        (("solve", "--density", "10.4", "--ask", "--list"), "--list"),
        (("solve", "--density", "10.4", "--ask", "--more"), "--more"),
        (("solve", "--density", "10.4", "--more", "--json"), "--more"),
        (("solve", "--density", "10.4", "--more", "--list"), "--more"),
    ],
)
def test_what_would_be_ignored_is_refused(run: Callable[..., Run], arguments: tuple[str, ...], path: str) -> None:
    done = run(*arguments)
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith(f"error: {path}: ")


def test_a_scale_below_the_balance_reads_the_mass_in_water_twice(run: Callable[..., Run], tmp_path: Any) -> None:
    shop = tmp_path / "shop.toml"
    shop.write_text('[scale]\nset_up = "below the balance"\n', encoding="utf-8")
    assert run("weigh", "31.10", "28.14", "--in-water", "28.13", "--settings", str(shop)).code == 2
    kept = run("weigh", "31.10", "28.14", "--known-good", "--claim", "silver 999", "--save", "--settings", str(shop))
    assert kept.code == 0, kept.err
    assert 'displaced = "2.96 g"' in shop.read_text(encoding="utf-8")
