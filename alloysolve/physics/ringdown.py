"""The tones that die away after a tap, found in samples of sound. Times are in s, tones in Hz."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array, Index

# All of these were chosen on made-up sounds (tests/readings/test_recording.py); judgement, no source.
FRAME = 0.002  # s, for the loudness in which taps are looked for
RISE = 4.0  # a tap is this many times as strong (power) as anything in the time MAINS before
MAINS = 0.024  # s, longer than a period of the mains, within which hum rises and falls
QUIET = 1e-4  # and at least this share of the strongest frame
FADED = 1.5  # ratio of the power of the first to that of the last fifth where the tap was cut off
APART = 0.030  # s, between taps
IMPACT = 0.001  # s, left out after a tap: the blow itself
LONGEST = 1.0  # s, of a tap that are looked at
WINDOWS = (0.2, 0.03)  # s, of the spectra in which tones are looked for: long and short ones
PROMINENT_DB = 13.0  # a tone stands that far above the sound around it; a knock does so in one tap of some thousand
LUMP_DB = 6.0  # and above the saddles to its neighbours
WEAKEST_DB = 45.0  # below the strongest
FRAME_TURNS = 2.5  # length of a frame times the spacing of tones: where a Gaussian window tells them apart
LONGEST_FRAME = 0.15  # s
FALL = 0.25  # a tone must fall by this much (natural logarithm of amplitude) while it can be followed
FEWEST_TURNS = 12.0  # pi f tau of a tone, at least: below, it is a thud
SAME = 0.008  # relative: two tones nearer than that are one, split


class Ringing(NamedTuple):
    """One tone in one tap: frequency [Hz] and its u [Hz], time to fall to 1/e [s], amplitude at the start."""

    frequency: float
    u: float
    decay_time: float
    amplitude: float


def without_rumble(samples: Array, rate: float, lowest: float) -> Array:
    """Samples (channels, n) without what lies below `lowest` [Hz]: hum, wind, steps.

    The filter is a Butterworth filter of 4th order (source: Butterworth, 1930, from memory); `rate` is in Hz.
    """
    from scipy.signal import butter, sosfilt

    return np.asarray(sosfilt(butter(4, lowest, "highpass", fs=rate, output="sos"), samples, axis=-1))


def taps(samples: Array, rate: float) -> Index:
    """Where taps begin, as numbers of samples; samples are (channels, n), `rate` in Hz.

    A tap begins where the sound, or its second difference, rises at once; the second difference shows a blow over what
    still rings. If nothing rises but the sound fades, the tap itself was cut off and the recording begins with it.
    The result is empty in all other cases.
    """
    step = max(1, round(FRAME * rate))
    begin: list[int] = []
    for n in np.union1d(_rises(samples, step), _rises(np.diff(samples, 2, axis=-1, append=0, prepend=0), step)):
        if not begin or (n - begin[-1]) * FRAME > APART:
            begin.append(int(n))
    power = frame_power(samples, step)
    fifth = len(power) // 5 + 1
    if not begin and power[:fifth].mean() > FADED * power[-fifth:].mean():
        begin = [0]
    return np.array([n * step for n in begin], dtype=np.intp)


def frame_power(samples: Array, step: int) -> Array:
    """Power of successive frames of `step` samples, channels added; there is at least one frame.

    Its unit is that of the samples, squared.
    """
    step = min(step, samples.shape[-1])
    count = samples.shape[-1] // step
    return np.asarray((samples[:, : count * step] ** 2).reshape(len(samples), count, step).sum(axis=(0, 2)))


def _rises(samples: Array, step: int) -> Index:
    """Numbers of the frames that are much stronger than anything shortly before them."""
    power, back = frame_power(samples, step), round(MAINS / FRAME)
    past = np.append([np.median(power)] * back, power[:-1])
    before = np.lib.stride_tricks.sliding_window_view(past, back).max(axis=-1)
    return np.flatnonzero((power > RISE * before) & (power > QUIET * power.max()))


def spectrum(piece: Array, rate: float, length: float) -> tuple[Array, Array]:
    """Frequencies [Hz] and power of the first `length` seconds of a piece of sound (channels, n), channels added.

    The window is half a Hann window, falling (source: Harris, Proc. IEEE 66 (1978) 51, from memory): a tone starts at
    once and dies away, so its beginning counts most. `rate` is in Hz.
    """
    n = min(piece.shape[-1], max(16, round(length * rate)))
    window = np.cos(np.linspace(0, np.pi / 2, n, endpoint=False)) ** 2
    size = 4 << int(np.ceil(np.log2(n)))
    power = (np.abs(np.fft.rfft(piece[:, :n] * window, size)) ** 2).sum(axis=0)
    return np.asarray(np.fft.rfftfreq(size, 1 / rate)), np.asarray(power)


def stand_out(frequency: Array, power: Array, lowest: float, highest: float, resolution: float) -> Array:
    """Frequencies [Hz] at which a spectrum stands out from its surroundings, the strongest first.

    The surroundings are the median within 40 times the resolution to both sides. `lowest`, `highest` and `resolution`
    are in Hz.
    """
    from scipy.ndimage import median_filter
    from scipy.signal import find_peaks

    level = 10 * np.log10(np.maximum(power, power.max() * 1e-12 + 1e-300))
    bin_width = frequency[1]
    thin = max(1, int(resolution / bin_width / 2))  # the median needs no finer points than the window resolves
    around = median_filter(level[::thin], size=81, mode="nearest")
    floor = np.interp(np.arange(len(level)), np.arange(len(around)) * thin, around)
    floor = np.maximum(floor, level.max() - WEAKEST_DB - PROMINENT_DB)
    apart = max(1, int(resolution / bin_width))
    found, _ = find_peaks(level, height=floor + PROMINENT_DB, distance=apart, prominence=LUMP_DB)
    found = found[(frequency[found] >= lowest) & (frequency[found] <= highest)]
    return np.asarray(frequency[found[np.argsort(-level[found])]][:40])


def follow(piece: Array, rate: float, tone: float, spacing: float) -> Ringing | None:
    """A tone followed through a piece of sound (channels, n), or None if it does not die away as a struck body does.

    Its amplitude and phase are taken in short overlapping frames (Gaussian window). The logarithm of the amplitude
    against time gives the decay, and the phase gives the frequency, by least squares weighted with the power, over the
    frames in which the tone stands out from its neighbourhood.

    Parameters
    ----------
    rate : samples per second [Hz]. tone : [Hz], right to the resolution of the spectrum.
    spacing : distance to the next tone [Hz], which the frames must resolve.
    """
    length = float(np.clip(FRAME_TURNS / spacing, max(10 / tone, 0.003), LONGEST_FRAME))
    n = min(round(length * rate), piece.shape[-1] // 4)
    if n < 8:
        return None
    time, (z, *beside) = frames(piece, rate, tone + np.array([0.0, -4.0, 4.0]) * rate / n, n)
    size = np.abs(z)
    channel = int(size.sum(axis=1).argmax())
    start = int(size[channel, : len(time) // 3].argmax())
    late = max(3, len(time) // 5)
    around = min(float(np.median(np.abs(b[channel, -late:]))) for b in beside)  # the other may hold another tone
    floor = max(3 * around, 0.02 * size[channel, start])
    under = np.flatnonzero(size[channel, start:] < floor)
    end = start + int(under[0]) if under.size else len(time)
    if end - start < 4:
        return None
    t, a, angle = time[start:end], size[channel, start:end], np.unwrap(np.angle(z[channel, start:end]))
    slope, level, scatter, _ = line(t, np.log(a), a**2)
    turn, _, _, u = line(t, angle, a**2)
    fall, frequency = -slope * (t[-1] - t[0]), tone + turn / (2 * np.pi)
    if fall < max(FALL, 2 * scatter) or np.pi * frequency < -slope * FEWEST_TURNS:
        return None
    return Ringing(frequency, u / (2 * np.pi), -1 / slope, float(np.exp(level + slope * t[0])))


def frames(piece: Array, rate: float, tones: Array, n: int) -> tuple[Array, NDArray[np.complex128]]:
    """Middles [s] of frames of n samples, a quarter apart, and tones in them as complex (tones, channels, frames).

    `rate` and `tones` are in Hz. Source: short-time Fourier transform, Gabor (1946), from memory.
    """
    step = max(1, n // 4)
    window = np.exp(-0.5 * np.linspace(-2.5, 2.5, n) ** 2)
    turn = -2j * np.pi * tones / rate
    kernel = (2 * window / window.sum())[:, None] * np.exp(turn * np.arange(n)[:, None])
    cut = np.ascontiguousarray(np.lib.stride_tricks.sliding_window_view(piece, n, axis=-1)[:, ::step])
    begin = np.arange(cut.shape[1]) * step
    z = np.moveaxis(cut @ kernel.real + 1j * (cut @ kernel.imag), -1, 0)
    return np.asarray((begin + (n - 1) / 2) / rate), np.asarray(z * np.exp(turn[:, None, None] * begin))


def line(x: Array, y: Array, weight: Array) -> tuple[float, float, float, float]:
    """Weighted least squares: slope, value at x = 0, weighted scatter about the line, u of the slope.

    x and y have any units, the slope that of y over x. Source: any textbook on the treatment of data.

    >>> slope, start, scatter, _ = line(np.arange(3.0), 2 + 3 * np.arange(3.0), np.ones(3))
    >>> round(slope, 6), round(start, 6), round(scatter, 6)
    (3.0, 2.0, 0.0)
    """
    w = weight / weight.sum()
    middle, mean = float(w @ x), float(w @ y)
    spread = float(w @ (x - middle) ** 2)
    slope = float(w @ ((x - middle) * (y - mean))) / spread
    scatter = float(np.sqrt(w @ (y - mean - slope * (x - middle)) ** 2))
    return slope, mean - slope * middle, scatter, scatter / np.sqrt(spread * max(1.0, 1 / float(w @ w) - 2))
