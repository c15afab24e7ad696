"""The whole error of a reading as the plain sum of its normals, without tables."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr, ndtri

from alloysolve.arrays import Array
from alloysolve.readings.error_model import emg_pdf, emg_tails, scale_mixture


def direct_pdf(r: Array, u: float, model: Array, b: float) -> Array:
    """Density at `r`, normal by normal."""
    parts = [weight * emg_pdf(r, np.hypot(u, k * model), b) for k, weight in zip(*scale_mixture(), strict=True)]
    return np.asarray(np.sum(parts, axis=0))


def direct_score(r: Array, u: float, model: Array, b: float) -> Array:
    """Normal score at `r`, normal by normal."""
    if b <= 0:
        left = sum(w * ndtr(-np.abs(r) / np.hypot(u, k * model)) for k, w in zip(*scale_mixture(), strict=True))
        return np.asarray(-np.sign(r) * ndtri(left))
    tails = [(w, emg_tails(r, np.hypot(u, k * model), b)) for k, w in zip(*scale_mixture(), strict=True)]
    left, right = (np.sum([w * t[side] for w, t in tails], axis=0) for side in (0, 1))
    return np.where(left < right, ndtri(left), -ndtri(right))
