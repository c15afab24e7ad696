"""From a recording of taps, a WAV file or samples, to the tones of the piece."""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Array, Index, Mask
from ..entry import shown
from ..errors import InputError
from ..physics.ringdown import (
    FRAME,
    IMPACT,
    LONGEST,
    SAME,
    WEAKEST_DB,
    WINDOWS,
    Ringing,
    follow,
    frame_power,
    spectrum,
    stand_out,
    taps,
    without_rumble,
)

LOWEST_HZ = 300.0  # below lie hum and handling; no piece of the trade under about a kilogram sounds there
RATE_HZ = (8_000.0, 400_000.0)
SHORTEST = 0.012  # s of sound that are needed after a tap
CLOCK = 1e-4  # relative u of a frequency by the clock of a sound card; common practice, no source
NOISY_DB, SLOW_RATE_HZ = 15.0, 40_000.0
CLIPPED_RUN, CLIPPED_OFTEN, CLIPPED_TIME = 3, 8, 0.02  # samples at the greatest value: in a row, or within so long [s]
MANY_STEPS = 1000  # of fewer steps, a greatest value that is not the end of the scale means nothing
_may_open: ContextVar[bool] = ContextVar("may_open", default=True)


@dataclass(frozen=True, slots=True)
class Note:
    """A remark on a recording.

    Attributes
    ----------
    code : "no_tap"; "no_tone" (nothing that dies away); "clipped" (value: how many taps); "noisy" (value: dB by which
        the taps stand out from the quietest quarter); "short" (value: taps left out, too little sound after them);
        "slow_rate" (value: highest tone that can be heard [Hz]); "damaged" (the file ends early).
    """

    code: str
    value: float


@dataclass(frozen=True, slots=True)
class Peaks:
    """The tones of a struck piece, lowest first.

    Attributes
    ----------
    frequency, u : [Hz]. A tone that is split in two counts once; u covers both.
    decay_time : to 1/e of the amplitude [s]. level : below the strongest [dB], 0 or less.
    heard : in how many taps. taps : how many could be used. rate : samples per second. notes : see `Note`.
    """

    frequency: Array
    u: Array
    decay_time: Array
    level: Array
    heard: Index
    taps: int
    rate: float
    notes: tuple[Note, ...]


def peaks_of(source: str | Path | ArrayLike, rate: float | None = None, *, path: str = "recording") -> Peaks:
    """Tones that die away after the taps of a recording; what goes on humming or hissing is left out.

    Parameters
    ----------
    source : a WAV file (8, 16, 24, 32 bit or float, any channels), or samples (n,) or (n, channels): whole numbers of
        that many bits, or floats.
    rate : samples per second, for samples [Hz].
    path : where the recording stands in a document, for errors.

    Several taps are combined: a tone counts if it dies away in half of them. Clipped beginnings are skipped.

    Raises
    ------
    InputError
        For a file that is not a WAV file, samples that are not sound, or a rate that is missing or not 8 to 400 kHz.

    >>> t = np.arange(24000) / 48000
    >>> peaks_of(0.5 * np.exp(-t / 0.05) * np.sin(2 * np.pi * 4700 * t), 48000).frequency.round()
    array([4700.])
    """
    return _tones(*_sound(source, rate, path))


def mean_spectrum(
    source: str | Path | ArrayLike, rate: float | None = None, *, path: str = "recording"
) -> tuple[Array, Array]:
    """The spectrum in which `peaks_of` looks for long tones: frequency [Hz], and level below the strongest [dB].

    Parameters and errors are as in `peaks_of`. It is the mean over the taps with equal weights, or the spectrum of the
    whole recording if no tap was found. Levels end at -120 dB.
    """
    sound, rate, clipped, _ = _sound(source, rate, path)
    begin = taps(sound, rate)
    pieces = (_pieces(sound, rate, begin, clipped)[0] if begin.size else []) or [sound]
    frequency, power = _mean_of(pieces, rate, WINDOWS[0])
    return frequency, 10 * np.log10(np.maximum(power / (power.max() or 1.0), 1e-12))


def _sound(source: str | Path | ArrayLike, rate: float | None, path: str) -> tuple[Array, float, Mask, list[Note]]:
    """Sound (channels, n) without rumble, its rate, which samples are clipped, and notes so far."""
    notes: list[Note] = []
    if isinstance(source, str | Path):
        samples, rate, damaged = _read(Path(source), path)
        notes += [Note("damaged", 0.0)] * damaged
    else:
        samples = np.asarray(source)
    if rate is None or not RATE_HZ[0] <= rate <= RATE_HZ[1]:
        raise InputError(path, rate, "8000 to 400000 samples per second", "give the rate of the recording")
    sound = _as_float(samples, path)
    if rate < SLOW_RATE_HZ:
        notes.append(Note("slow_rate", 0.45 * rate))
    clipped = _clipped(samples, sound, rate)
    sound = without_rumble(sound - sound.mean(axis=-1, keepdims=True), rate, LOWEST_HZ)
    return sound, float(rate), clipped, notes


@contextmanager
def without_files() -> Iterator[None]:
    """Refuses recordings meanwhile: for pieces that come from elsewhere and must not name a file of this machine."""
    before = _may_open.set(False)
    try:
        yield
    finally:
        _may_open.reset(before)


def _read(file: Path, path: str) -> tuple[NDArray[np.generic], float, bool]:
    """Samples, rate and whether the file ends early."""
    from scipy.io import wavfile

    if not _may_open.get():
        raise InputError(path, shown(str(file)), "tones in Hz, not a file", "for a file: alloysolve resonance FILE")
    try:
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always")
            rate, samples = wavfile.read(file)
    except OSError as e:
        raise InputError(path, str(file), "a WAV file that can be read", "check the path") from e
    except Exception as e:  # scipy raises ValueError, struct.error, EOFError and others on files that are no WAV
        raise InputError(path, str(file), "a WAV file", "save the recording as uncompressed WAV") from e
    return samples, float(rate), any("EOF" in str(w.message) for w in caught)


def _as_float(samples: NDArray[np.generic], path: str) -> Array:
    """Samples as floats of full scale 1, (channels, n)."""
    if samples.dtype.kind not in "iuf" or samples.ndim not in (1, 2) or samples.size == 0:
        raise InputError(
            path,
            f"{samples.dtype} of shape {samples.shape}",
            "samples of one or more channels",
            "give an array (n,) or (n, channels)",
        )
    sound = np.array(samples, dtype=float, ndmin=2)
    if samples.ndim == 2:
        sound = sound.T.copy()
    if samples.dtype.kind == "u":
        sound -= 2.0 ** (8 * samples.dtype.itemsize - 1)
    if samples.dtype.kind in "iu":
        sound /= 2.0 ** (8 * samples.dtype.itemsize - 1)
    if not np.isfinite(sound).all():
        raise InputError(path, "not a number", "samples that are numbers", "record again")
    return sound


def _clipped(samples: NDArray[np.generic], sound: Array, rate: float) -> Mask:
    """Which samples, (n,), are clipped: at a greatest value that a channel takes three times in a row, or often."""
    size = np.abs(sound)
    if samples.dtype.kind in "iu":
        full = 2.0 ** (8 * samples.dtype.itemsize - 1)
        size = np.minimum(size, 1 - 1 / full)  # -32768 is an end of the scale, and so is 32767
    top = size.max(axis=-1, keepdims=True)
    at_top = (size >= top * (1 - 1e-6)) & (top > 0)
    if samples.dtype.kind in "iu":  # a few steps make flat tops of their own, far from full scale
        at_top &= (top > 0.9) | (top * full > MANY_STEPS)
    flat = _most(at_top, CLIPPED_RUN) == CLIPPED_RUN
    flat |= _most(at_top, round(CLIPPED_TIME * rate)) >= CLIPPED_OFTEN
    return np.asarray((at_top & flat[:, None]).any(axis=0))


def _most(marked: Mask, window: int) -> Index:
    """Greatest number of marked samples within a window, for each channel."""
    total = np.cumsum(np.pad(marked, ((0, 0), (1, 0))), axis=-1)
    window = min(window, marked.shape[-1])
    return np.asarray((total[:, window:] - total[:, : total.shape[-1] - window]).max(axis=-1))


def _tones(sound: Array, rate: float, clipped: Mask, notes: list[Note]) -> Peaks:
    """The tones of the taps of a recording."""
    begin = taps(sound, rate)
    if not begin.size:
        return _peaks([], [], 0, rate, [*notes, Note("no_tap", 0.0)])
    notes += _noisy(sound, rate)
    pieces, cut, short = _pieces(sound, rate, begin, clipped)
    notes += [Note("clipped", float(cut))] * (cut > 0) + [Note("short", float(short))] * (short > 0)
    tones = _candidates(pieces, rate)
    ringing = [_in_taps(pieces, rate, tone, tones) for tone in tones]
    heard = [r for r in ringing if r and 2 * len(r) >= len(pieces)]
    out = _merged(heard)
    return _peaks([r for r, _ in out], [u for _, u in out], len(pieces), rate, notes)


def _noisy(sound: Array, rate: float) -> list[Note]:
    """A note if the strongest moment hardly stands out from the quietest quarter."""
    power = np.sort(frame_power(sound, round(FRAME * rate)))
    quiet = float(power[: len(power) // 4 + 1].mean())
    ratio = 10 * np.log10(power[-1] / quiet) if quiet > 0 else np.inf
    return [Note("noisy", float(ratio))] if ratio < NOISY_DB else []


def _pieces(sound: Array, rate: float, begin: Index, clipped: Mask) -> tuple[list[Array], int, int]:
    """The sound after each tap, the number of taps that were clipped, and of those that left too little sound."""
    pieces, cut, short = [], 0, 0
    ends = np.append(begin[1:] - round(2 * FRAME * rate), sound.shape[-1])
    for first, last in zip(begin, ends, strict=True):
        last = min(last, first + round(LONGEST * rate))
        over = np.flatnonzero(clipped[first:last])
        cut += bool(over.size)
        first += max(round((FRAME + IMPACT) * rate), over[-1] + 1 if over.size else 0)
        if last - first < SHORTEST * rate:
            short += 1
        else:
            pieces.append(sound[:, first:last])
    return pieces, cut, short


def _candidates(pieces: list[Array], rate: float) -> list[float]:
    """Tones that stand out from the mean spectrum of the taps, with equal weights."""
    found: list[float] = []
    for length in WINDOWS:
        usable = [p for p in pieces if length == WINDOWS[-1] or p.shape[-1] >= length * rate / 2]
        if not usable:
            continue
        frequency, power = _mean_of(usable, rate, length)
        if power.any():
            tones = stand_out(frequency, power, LOWEST_HZ, 0.45 * rate, 2 / length)
            found += [t for t in tones.tolist() if all(abs(t / f - 1) > SAME for f in found)]
    return found


def _mean_of(pieces: list[Array], rate: float, length: float) -> tuple[Array, Array]:
    """Frequency [Hz] and mean power of the spectra of some taps, with equal weights."""
    size = max(p.shape[-1] for p in pieces)
    spectra = [spectrum(np.pad(p, ((0, 0), (0, size - p.shape[-1]))), rate, length) for p in pieces]
    return spectra[0][0], np.mean([s / (s.sum() or 1.0) for _, s in spectra], axis=0)


def _in_taps(pieces: list[Array], rate: float, tone: float, tones: Iterable[float]) -> list[Ringing]:
    """One tone in each tap in which it dies away."""
    spacing = min([abs(tone - t) for t in tones if t != tone] or [tone])
    return [
        r for p in pieces if (r := follow(p, rate, tone, spacing)) is not None and abs(r.frequency / tone - 1) < SAME
    ]


def _merged(heard: list[list[Ringing]]) -> list[tuple[list[Ringing], float]]:
    """Tones with those combined that are as near as the halves of a split tone, and the u that this adds."""
    out: list[tuple[list[Ringing], float]] = []
    least = max([_middle(r, "amplitude") for r in heard], default=0.0) * 10 ** (-WEAKEST_DB / 20)
    for ringing in sorted(heard, key=lambda r: -_middle(r, "amplitude")):
        if _middle(ringing, "amplitude") < least:
            break
        f = _middle(ringing, "frequency")
        for n, (other, apart) in enumerate(out):
            g = _middle(other, "frequency")
            if abs(f / g - 1) < SAME:
                out[n] = (other, max(apart, abs(f - g) / 2))
                break
        else:
            out.append((ringing, 0.0))
    return sorted(out, key=lambda r: _middle(r[0], "frequency"))


def _middle(ringing: list[Ringing], name: str) -> float:
    return float(np.median([getattr(r, name) for r in ringing]))


def _peaks(tones: list[list[Ringing]], apart: list[float], used: int, rate: float, notes: list[Note]) -> Peaks:
    frequency = np.array([_middle(r, "frequency") for r in tones])
    inside = np.array([_middle(r, "u") for r in tones])
    between = np.array([np.std([x.frequency for x in r]) / np.sqrt(len(r)) for r in tones])
    amplitude = np.array([_middle(r, "amplitude") for r in tones])
    if used and not tones:
        notes = [*notes, Note("no_tone", 0.0)]
    u = np.sqrt(np.maximum(inside, between) ** 2 + np.array(apart) ** 2 + (CLOCK * frequency) ** 2)
    return Peaks(
        frequency=frequency,
        u=u,
        decay_time=np.array([_middle(r, "decay_time") for r in tones]),
        level=20 * np.log10(amplitude / amplitude.max()) if tones else amplitude,
        heard=np.array([len(r) for r in tones], dtype=np.intp),
        taps=used,
        rate=rate,
        notes=tuple(notes),
    )
