"""Cautions in words: on harmful metals, on readings, in lists and in records."""

import pandas as pd
import pytest

from alloysolve.published.load import default_tables
from alloysolve.readings.registry import KINDS
from alloysolve.words.cautions import DUST, caution_of_records, caution_words, cautions_of
from alloysolve.words.language import language
from alloysolve.words.listing import harmful

SAY, TABLES = language(), default_tables()


def test_every_harmful_metal_of_the_table_has_its_words():
    codes = {r.code for r in TABLES.rows("cautions")}
    assert codes == set(DUST)
    for code in codes:
        words = caution_words([code], SAY)
        for deed in ("file", "saw", "heat", "melt", "acid-test"):
            assert deed in words, (code, deed)
        assert SAY.has("page", code), code


@pytest.mark.parametrize(("code", "harm"), [("uranium", "radioactive"), ("thallium", "skin"), ("osmium", "vapour")])
def test_what_dust_alone_does_not_say(code, harm):
    assert harm in caution_words([code], SAY)


def test_readings_that_harm_say_so():
    assert cautions_of(["surface_composition", "magnet"]) == ["x-rays"]
    assert cautions_of(["acid"]) == ["acid"]
    assert set(cautions_of(KINDS)) == {"x-rays", "acid"}
    assert caution_words([], SAY) == ""


def test_a_list_of_records_names_those_that_may_hold_a_harmful_metal():
    words = caution_of_records([(1, ("lead", "x-rays")), (2, ()), (7, ("cadmium", "lead"))], SAY)
    assert words.startswith("Lead possible (1, 7), cadmium possible (7): do not file")
    assert caution_of_records([(2, ("x-rays",))], SAY) == ""


@pytest.mark.parametrize(
    ("row", "codes"),
    [
        ({"metal_1": "Cu", "metal_1_high_percent": 90.0, "metal_2": "Pb", "metal_2_high_percent": 5.0}, ["lead"]),
        ({"metal_1": "Cu", "metal_1_high_percent": 90.0, "metal_2": "Pb", "metal_2_high_percent": 0.05}, []),
        ({"metals": "Cu Be", "Be_high_percent": 2.0, "skin": ""}, ["beryllium"]),
        ({"metals": "Ag Cu", "Ag_high_percent": 92.0, "skin": "fire gilding"}, ["mercury"]),
        ({"metals": "Ag Cu", "Ag_high_percent": 92.0, "skin": "Au"}, []),
    ],
)
def test_a_list_warns_of_what_any_of_its_rows_may_hold(row, codes):
    assert harmful([pd.DataFrame([row])], TABLES) == codes
