"""The answer as JSON: what it holds, that it repeats byte for byte, and what it does not need."""

import json
import math
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import pytest

from alloysolve.answer.collect import prior_hash
from alloysolve.answer.document import SCHEMA
from alloysolve.answer.rounding import significant
from alloysolve.answer.solution import solve
from alloysolve.inference.commonness import DEFAULT, FLAT
from alloysolve.inputs.piece import Piece
from alloysolve.inputs.settings import Settings
from alloysolve.published.load import RECORDS, Tables, default_tables

BRASS = {
    "claim": "silver 999",
    "mass": "31.18 g",
    "displaced": ["3.64 g", "3.63 g"],
    "magnet": "none",
    "bar": ["50.0 mm", "28.0 mm", "2.60 mm"],
    "reading": [{"kind": "conductivity", "value": "27 %IACS"}],
}
PIECES = [
    BRASS,
    {"density": "21.02 +- 0.03 g/cm3"},
    {"claim": "silver 999", "magnet": "strong"},
    {"claim": "gold plated", "density": 8.5},
    {"claim": "silver 999", "density": "9 +- 3 g/cm3"},
    {"mass": "5.00 g", "displaced": "0.33 g"},
    {"claim": "silver 999", "density": "2.7 g/cm3"},
    {"claim": "silver 999", "mass": "31.18 g", "displaced": "27.54 g"},
]


def made(given=BRASS, **options):
    return solve(Piece(**given), Settings(), **options)


def leaves(value):
    if isinstance(value, dict):
        for v in value.values():
            yield from leaves(v)
    elif isinstance(value, list):
        for v in value:
            yield from leaves(v)
    else:
        yield value


def test_the_keys_of_the_contract():
    d = json.loads(made().to_json())
    assert list(d)[:3] == ["schema", "version", "inputs"]
    assert {
        "schema",
        "version",
        "inputs",
        "settings",
        "prior",
        "tables",
        "density",
        "claim",
        "readings",
        "systems",
        "precious",
        "conflicts",
        "next_readings",
        "blind_spots",
        "cautions",
    } <= set(d)
    assert d["schema"] == SCHEMA == "alloysolve.solution/1"
    assert set(d["prior"]) == {"name", "sha256"}
    assert {"value", "u", "unit", "low", "high", "one_sided_percent"} <= set(d["density"])
    assert {"text", "decision", "p", "false_alarm", "reasons"} <= set(d["claim"])
    assert all(set(r) == {"code", "values"} for r in d["claim"]["reasons"])
    assert d["claim"]["reasons"]
    for reading in d["readings"]:
        assert {"kind", "place", "value", "u", "unit", "text", "sees", "agrees"} <= set(reading)
        assert (reading["u"] is None) == isinstance(reading["value"], str)
    assert [c["probability"] for c in d["candidates"]] == sorted([c["probability"] for c in d["candidates"]])[::-1]
    assert {"metals", "construction", "skin_um"} <= set(d["candidates"][0])
    assert d["settings"]["scale"]["wetting"] == "as usual"  # in use, though nobody said so
    for system in d["systems"]:
        assert {
            "metals",
            "probability",
            "bayes_factor_against_next",
            "ranges",
            "nearest_grades",
            "constructions",
        } <= set(system)
        assert all(low <= likely <= high for low, likely, high in system["ranges"].values())
    assert all(set(p) == {"low", "likely", "high", "unit", "covers", "u"} for p in d["precious"].values())


@pytest.mark.parametrize("given", PIECES, ids=lambda g: " ".join(map(str, g.values()))[:40])
def test_only_numbers_that_json_knows(given):
    s = made(given)
    text = s.to_json()
    d = json.loads(text, parse_constant=lambda name: pytest.fail(name))
    assert all(math.isfinite(x) for x in leaves(d) if isinstance(x, float))
    assert json.loads(s.to_json(indent=None)) == d
    assert "\n" not in s.to_json(indent=None)


def test_inputs_make_the_same_piece_again():
    s = made()
    d = json.loads(s.to_json())
    assert Piece.from_dict(d["inputs"]) == s.piece
    assert solve(Piece.from_dict(d["inputs"]), Settings.from_dict(d["settings"])).to_json() == s.to_json()


def test_numbers_are_those_of_the_solution_rounded():
    s = made()
    d = s.document.to_dict()
    assert d["density"]["value"] == pytest.approx(s.density.value, abs=s.density.u / 10)
    assert d["claim"]["decision"] == s.decision.code
    assert d["claim"]["p"] == pytest.approx(s.decision.p, rel=5e-3)
    for shown, system in zip(d["systems"], s.found, strict=False):
        assert shown["metals"] == list(system.metals)
        assert shown["probability"] == pytest.approx(system.probability, rel=5e-3)
        assert len(shown["constructions"]) == len(system.constructions)
    assert d["something_else"] == pytest.approx(s.other, rel=5e-3)
    for symbol, m in s.precious.items():
        assert d["precious"][symbol]["high"] == pytest.approx(m.high, abs=m.u / 10)
    assert sum(x["probability"] for x in d["systems"]) + d["something_else"] == pytest.approx(1.0, abs=0.05)


def test_no_claim_no_decision():
    assert made({"density": "8.5 g/cm3"}).document.claim is None
    assert made({"magnet": "none"}).document.density is None


@pytest.mark.parametrize(
    ("x", "shown"),
    [
        (0.0123456, 0.0123),
        (123456.0, 123000.0),
        (math.inf, None),
        (math.nan, None),
        (0.0, 0.0),
        (-1.98765, -1.99),
    ],
)
def test_three_significant_digits(x, shown):
    assert significant(x) == shown


def test_tables_and_prior_are_named_by_their_contents(tmp_path):
    d = made().document.to_dict()
    assert set(d["tables"]) == {f"{name}.csv" for name in RECORDS}
    assert all(len(h) == 64 for h in d["tables"].values())
    kinds = (default_tables().files("claim_priors")[0]).read_text(encoding="utf-8")
    (tmp_path / "claim_priors.csv").write_text(kinds, encoding="utf-8")
    other = Tables([tmp_path])
    assert prior_hash(other, DEFAULT) != prior_hash(default_tables(), DEFAULT)
    assert prior_hash(default_tables(), FLAT) != prior_hash(default_tables(), DEFAULT)
    assert prior_hash(default_tables(), DEFAULT) == d["prior"]["sha256"]


def test_the_same_bytes_on_every_run_and_in_every_thread():
    once = made().to_json()
    with ThreadPoolExecutor(4) as pool:
        texts = list(pool.map(lambda _: made().to_json(), range(8)))
    assert set(texts) == {once}


def run(code):
    return subprocess.run(
        [sys.executable, "-W", "error", "-c", code], capture_output=True, text=True, check=True
    ).stdout


def test_the_same_bytes_in_threads_that_load_the_tables_themselves():
    """Tables, bodies and priors are built on first use; here four threads are first together."""
    out = run(
        "from concurrent.futures import ThreadPoolExecutor\n"
        "from alloysolve import Piece, Settings, solve\n"
        "p = Piece(claim='silver 999', mass='31.18 g', displaced='3.64 g')\n"
        "def f(_): return solve(p, Settings()).to_json()\n"
        "with ThreadPoolExecutor(4) as pool: texts = list(pool.map(f, range(4)))\n"
        "print(len(set(texts))); print(texts[0], end='')"
    )
    count, _, text = out.partition("\n")
    assert count == "1"
    assert text == made({"claim": "silver 999", "mass": "31.18 g", "displaced": "3.64 g"}).to_json()


def test_json_needs_no_pandas():
    out = run(
        "import sys\n"
        "from alloysolve import Piece, Settings, solve\n"
        "solve(Piece(claim='silver 999', mass='31.18 g', displaced='3.64 g'), Settings()).to_json()\n"
        "print(sorted({m.split('.')[0] for m in sys.modules} & {'pandas', 'cvxpy', 'matplotlib'}))"
    )
    assert out.strip() == "[]"
