"""Which pieces tell what a scale should read."""

import pytest

from alloysolve.errors import InputError
from alloysolve.inference.known_good import RIGHT_WITHIN, known_density
from alloysolve.published.load import default_tables

TABLES = default_tables()


@pytest.mark.parametrize(
    ("claim", "density"),
    [
        ("silver 999", 10.49),  # handbooks
        ("gold 999", 19.30),
        ("platinum 999", 21.45),
        ("silver 925", 10.36),  # trade value
        ("US-1d-Ag", 10.31),  # silver 900 of copper, ideal rule and handbooks
        ("FR-20F", 17.17),  # gold 900 of copper: US coin gold 17.16 to 17.2, handbook
    ],
)
def test_fine_metals_and_coin_types_check_a_scale(claim, density):
    found, u = known_density(claim, TABLES, "claim")
    assert found == pytest.approx(density, rel=0.003)
    assert 0 < 100 * u / found < RIGHT_WITHIN


@pytest.mark.parametrize("claim", ["22 ct gold", "gold 900", "18 ct yellow", "14 ct", "brass", "platinum 950"])
def test_a_claim_of_many_densities_checks_none(claim):
    """Gold 900 is 17.2 with copper and 18.1 with silver: a reading against their middle is no error of the scale."""
    with pytest.raises(InputError) as e:
        known_density(claim, TABLES, "claim")
    assert (e.value.path, e.value.given) == ("claim", claim)
    assert "either way" in e.value.expected
    assert "silver 999" in e.value.next_step


def test_a_plated_piece_checks_none():
    with pytest.raises(InputError) as e:
        known_density("silver plated", TABLES, "claim")
    assert "solid metal" in e.value.expected
