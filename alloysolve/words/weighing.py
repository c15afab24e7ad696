"""A weighing with its budget as a table."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping

from ..measured import decimals
from ..physics.weighing import smallest_useful_mass
from ..weighing.repeats import BudgetRow
from ..weighing.weigh import Weighing
from .language import Language
from .numbers import columns

WIDTH = 80
TARGET = 0.01  # relative uncertainty of density below which a weighing is called useful


def weighing_text(
    w: Weighing, echo: Mapping[str, str], step: float, say: Language, claim: str = "", fineness: float | None = None
) -> str:
    """Text of a weighing: the density first, then where its uncertainty comes from, then what was read.

    `fineness` : per mille, the highest that this weighing could have told from the claim (`fineness.fineness_seen`).
    """
    d = min(3, decimals((w.density.high - w.density.low) / 4, 1))
    numbers = {
        k: f"{x:.{d}f}" for k, x in (("density", w.density.value), ("low", w.density.low), ("high", w.density.high))
    }
    if w.displaced_g is None or w.mass_g is None:
        lines = [say.say("weigh", "head_density", **numbers)]
    else:
        lines = [say.say("weigh", "head", **numbers, mass=f"{w.mass_g:g} g", displaced=f"{w.displaced_g:.4g} g")]
    rows = [[say.say("weigh", k) for k in ("part", "size", "moves")]]
    rows += [_row(r, say) for r in w.budget]
    lines += ["", *columns(rows, [31, 16, 0])]
    lines += [
        "",
        say.say("weigh", "read_as", echo=", ".join(f"{k.replace('_', ' ')} {v}" for k, v in echo.items())),
    ]
    lines += [say.say("weigh", note) for note in w.notes]
    if w.left_out_g is not None:
        lines.append(say.say("weigh", "left_out", value=f"{w.left_out_g:g} g"))
    if fineness is not None:
        seen = say.say("weigh", "fineness_seen", claim=claim, fineness=f"{fineness:.0f}")
        lines += textwrap.wrap(seen, WIDTH)
    if w.liquid:
        mass = float(smallest_useful_mass(w.density.value, step, TARGET, w.liquid))
        lines.append(say.say("weigh", "smallest", mass=f"{mass:.2g} g"))
    return "\n".join(lines) + "\n"


def _row(r: BudgetRow, say: Language) -> list[str]:
    percent = f"{r.moves_percent:.2g}"
    moves = say.say("weigh", "only_down" if r.one_sided else "percent", percent=percent)
    return [say.say("weigh", r.part), f"{r.size:.3g} {r.unit}", moves]
