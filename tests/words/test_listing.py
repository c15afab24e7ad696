"""The listing of everything that fits."""

import re
from types import SimpleNamespace

import pandas as pd
import pytest

from alloysolve.published.load import default_tables
from alloysolve.words.language import language
from alloysolve.words.listing import constructions_text

SOLVED = SimpleNamespace(tables=default_tables())  # all that names of bodies and skins depend on


def listed(*rows):
    shared = {"skin_low_um": 5.0, "skin_high_um": float("nan"), "void_low_percent": 1.0, "void_high_percent": 2.0}
    return constructions_text(pd.DataFrame([shared | row for row in rows]), SOLVED, language())


def body(family, construction="homogeneous", **more):
    metal = "Cu"
    ends = {f"{metal}_low_percent": 98.0, f"{metal}_high_percent": 100.0}
    return {"family": family, "construction": construction, "metals": metal, "skin": "", **ends, **more}


def test_every_family_is_called_by_its_words_and_runs_into_no_other_column():
    families = default_tables().families
    lines = listed(*(body(f, construction) for f in families for construction in ("plated", "hollow or porous")))
    found = [re.fullmatch(r"(.+?) {2,}(.+?) {2,}([A-Z].*)", line) for line in lines.splitlines()]
    assert [m and m[2] for m in found] == [f.words for f in families.values() for _ in range(2)]
    assert len({m.start(3) for m in found if m}) == 1  # one column


def test_a_region_of_the_claim_is_named_like_the_claim():
    assert "  gold 18 ct white nickel  Cu" in listed(body("gold 18 ct white nickel", "cored"), body("gold"))


@pytest.mark.parametrize(("skin", "words"), [("gold 750", "under 18 ct gold 5"), ("Au", "under gold 5")])
def test_a_skin_is_called_by_its_words(skin, words):
    assert words in listed(body("brass", "plated", skin=skin, skin_high_um=9.0))
