"""From a piece, its weighing and the shop settings to the evidence with which candidates are compared."""

from __future__ import annotations

from collections import Counter
from functools import partial

import numpy as np

from ..alloys.bodies import Bodies
from ..alloys.materials import layers_of
from ..errors import InputError
from ..inputs.claim import Claim, allows_hollow, parse_claim
from ..inputs.piece import Piece
from ..inputs.settings import LISTED, Settings
from ..inputs.ware import made_in_one
from ..integral.evidence import Evidence
from ..pieces.shape import USUAL_RATIO, USUAL_VOLUME, Form
from ..published.load import Tables
from ..readings.base import Observed
from ..readings.error_model import VolumeLikelihood
from ..readings.reading import Circumstances
from ..readings.registry import named_readings, unusable
from ..readings.size import size_of, type_of
from ..readings.x_rays.surface import listed_metals
from ..weighing.weigh import Weighing
from .claimed import claim_bodies, made_as_claimed


def evidence_of(
    piece: Piece, settings: Settings, tables: Tables, weighing: Weighing | None, claim: Claim | None = None
) -> Evidence:
    """All readings of one piece, ready to be compared with candidates.

    Raises
    ------
    InputError
        If nothing was read at all.
    """
    volume = None
    if weighing is not None:
        volume = VolumeLikelihood(float(weighing.v), float(weighing.u_v), float(weighing.bubble_v))
    form = form_of(piece, weighing)
    about = circumstances_of(piece, settings, tables, form, claim)
    readings = named_readings(piece.readings).items()
    observed: list[Observed] = [r.observed(n, about) for n, r in readings if not unusable(r.kind, form, tables)]
    size = size_of(about, allows_hollow(piece, claim)) if _measured_apart(piece, weighing) else None
    of_type = type_of(about, size is not None) if not piece.parts else None
    observed += [o for o in (size, of_type) if o is not None]
    if volume is None and not observed:
        raise InputError(
            "piece",
            piece.to_dict(),
            "at least one reading",
            "give mass and displaced (or in_water), density, conductivity, resistivity or magnet",
        )
    return Evidence(volume, tuple(observed), form, layers_of(tables))


def _measured_apart(piece: Piece, weighing: Weighing | None) -> bool:
    """Whether the lengths are a reading of their own: not where the density rests on them, nor beside stones."""
    return not piece.parts and (weighing is None or weighing.route != "dimensions")


def form_of(piece: Piece, weighing: Weighing | None) -> Form:
    """The shape of a piece; without dimensions, that of a coin of usual proportions and the weighed volume."""
    each = piece.mass.value / piece.count if piece.mass else None
    if piece.shape is not None:
        return Form(*piece.shape, measured=True, mass_g=each)
    volume = float(weighing.displaced_mm3) / piece.count if weighing and weighing.displaced_mm3 else USUAL_VOLUME
    thickness = float((4 * volume / (np.pi * USUAL_RATIO**2)) ** (1 / 3))
    return Form("disc", (USUAL_RATIO * thickness, thickness), measured=False, mass_g=each)


def circumstances_of(
    piece: Piece, settings: Settings, tables: Tables, form: Form, claim: Claim | None = None
) -> Circumstances:
    """What the readings of a piece need to know about it, about the shop and about the claim."""
    meter = settings.readings.conductivity
    return Circumstances(
        tables,
        form,
        frequency_hz=meter.frequency.value if meter.frequency else None,
        u_meter=meter.u.value,
        lengths=getattr(piece, form.shape, None) or (),
        mass=piece.mass,
        taken=Counter(r.kind for r in piece.readings),
        surface_metal=_surface_metal(claim),
        in_one=made_in_one(claim, piece),
        coin=claim.coin if claim else None,
        made_as_claimed=made_as_claimed(claim) if claim else None,
        listed=listed_metals(settings.readings.surface_composition.listed, f"settings.{LISTED}"),
        known_bodies=partial(_known_bodies, claim, tables),
    )


def _surface_metal(claim: Claim | None) -> str:
    """The metal of which a surface as claimed shows most."""
    if claim is None:
        return "Ag"
    composition = claim.coin.composition if claim.coin else None
    if composition and not claim.skin_metal:
        return max(composition, key=lambda s: composition[s])
    return claim.metal or claim.skin_metal or "Cu"


def _known_bodies(claim: Claim | None, tables: Tables, text: str) -> Bodies:
    """The compositions that a known-good piece may have; if `text` is empty, those of the claim."""
    path = "sliding_magnet.known_good"
    if not text and claim is None:
        raise InputError(
            path,
            "",
            "what the known-good piece is, beside a ratio of times",
            'write for example known_good = "silver 999", or give the claim of the piece',
        )
    try:
        known = parse_claim(text, tables) if text else claim
    except InputError as e:
        raise InputError(path, e.given, e.expected, e.next_step) from e
    bodies = claim_bodies(tables, known) if known else None
    if bodies is None:
        raise InputError(
            path,
            text or (claim.text if claim else ""),
            "a known-good piece of one metal or alloy, not plated or clad",
            'write for example known_good = "silver 999"',
        )
    return bodies
