"""Densities that were typed without their uncertainty, with the uncertainty that such a number has."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Unpack

import numpy as np

from ..arrays import Array
from ..measured import Measured
from ..physics.air import AIR_DENSITY
from ..physics.weighing import displaced_mass
from ..units import Quantity
from .budget import PartOfBudget, body_of, budget, limits
from .conditions import Conditions, setup
from .repeats import Repeats
from .result import Weighing, budget_rows

# share of a density that somebody else weighed: sound coins weighed by collectors read 0.9 % light on average with a
# deviation of 1.0 %, which is an exponential error of mean 0.9 % and a normal one of 0.5 %: judgement
LIGHT_SHARE, U_SHARE = 0.009, 0.005
OF_WEIGHING, OF_OTHERS = "u_of_weighing", "u_of_others"  # codes that say which uncertainty was taken


def typed_densities(
    given: Sequence[Quantity], mass: Array | None = None, **conditions: Unpack[Conditions]
) -> list[Weighing]:
    """Densities without a stated uncertainty, each as a `Weighing` that says in `notes` which uncertainty was taken.

    The last digit counts as rounded. To this is added the budget of a usual weighing of that mass, with its one-sided
    air; or, if no mass is known, what densities weighed by others are usually off.

    Parameters
    ----------
    given : densities within 0.5 to 25 g/cm3. mass : in air [g], one per density. conditions : see `weigh`.
    """
    rho = np.array([q.value for q in given])
    digits = np.array([q.last_digit for q in given]) / 12**0.5  # rectangular, half a digit either way
    one, inf = np.ones(len(rho)), np.full(len(rho), np.inf)
    rows = [PartOfBudget("digits", digits, "g/cm3", digits / rho, inf)]
    if mass is None:
        rows.append(PartOfBudget("others", U_SHARE * rho, "g/cm3", U_SHARE * one, inf))
        rows.append(PartOfBudget("bubbles", LIGHT_SHARE * rho, "g/cm3", LIGHT_SHARE * one, inf, one_sided=True))
    else:
        rows += _of_weighing(rho, mass, **conditions)
    found = limits(1 / rho, tuple(rows))
    return [
        Weighing(
            Measured(q.value, float(found.u[i]) * q.value, "g/cm3", float(found.low[i]), float(found.high[i])),
            1 / q.value,
            float(found.u[i]) / q.value,
            float(found.bubble[i]) / q.value,
            np.inf,
            *(None,) * 6,
            budget_rows(rows, i),
            (OF_OTHERS if mass is None else OF_WEIGHING,),
            "density",
        )
        for i, q in enumerate(given)
    ]


def _of_weighing(rho: Array, mass: Array, **conditions: Any) -> tuple[PartOfBudget, ...]:
    """The budget of pieces of these densities and masses, weighed in water as the conditions say."""
    told: dict[str, Any] = {"scale_step": 0.01, "water": None, "air": AIR_DENSITY, "area": None, "count": 1}
    told |= {"wetting": None} | conditions
    shop = setup(
        told["scale_step"],
        None,
        (None, None),
        (None, None, None),
        (told["water"], None),
        told["air"],
        told["wetting"],
        told["area"],
        told["count"],
        (),
        len(rho),
    ).setup
    gain = displaced_mass(mass, rho, shop.liquid, shop.air)
    air, other = Repeats.of(mass[:, None]), Repeats.of(gain[:, None])
    return budget(air, other, body_of(air, other, False, shop), False, shop)
