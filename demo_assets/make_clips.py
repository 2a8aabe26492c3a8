"""Synthesises the invented sounds of the Squall Lantern: `python demo_assets/make_clips.py` writes
demo_assets/clips/*.wav.

Everything is made for a 28 mm speaker: nearly all of the energy is between 700 and 6000 Hz, and
what a listener would take for depth is done with overtones. Every file is 16 bit, mono, 22 050 Hz,
with its peak at -1 dBFS and without DC.

The same seeds give the same files: numpy keeps the stream of RandomState unchanged for good (NEP
19). Sines and transforms may differ in the last bit of a float64 from one maths library to another,
so that a sample may come out one step apart.
"""

import struct
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

RATE_HZ = 22_050
PEAK = 10 ** (-1 / 20)
ARC_HZ = 120
Sound = NDArray[np.float64]


def time_s(seconds: float) -> Sound:
    """Times of all samples. [s]"""
    return np.arange(round(seconds * RATE_HZ)) / RATE_HZ


def band(sound: Sound, low_hz: float, high_hz: float) -> Sound:
    """The sound between two frequencies, with raised-cosine flanks of a third of an octave;
    wraps around, so a loop stays a loop.
    """
    octave = np.log2(np.maximum(np.fft.rfftfreq(len(sound), 1 / RATE_HZ), 1e-9))
    rise = np.clip((octave - np.log2(low_hz)) * 3 + 0.5, 0, 1)
    fall = np.clip((np.log2(high_hz) - octave) * 3 + 0.5, 0, 1)
    return np.fft.irfft(
        np.fft.rfft(sound) * np.sin(np.pi / 2 * rise) ** 2 * np.sin(np.pi / 2 * fall) ** 2,
        len(sound),
    )


def ring(seconds: float, modes: list[tuple[float, float, float]]) -> Sound:
    """Something struck: modes of (frequency in Hz, level, time to fall to 37 % in s), starting
    together at 0.
    """
    t = time_s(seconds)
    return sum(
        (
            level * np.exp(-t / fall_s) * np.sin(2 * np.pi * frequency * t)
            for frequency, level, fall_s in modes
        ),
        np.zeros(len(t)),
    )


def placed(seconds: float, *parts: tuple[float, Sound]) -> Sound:
    """Parts laid over each other, each at its time in s; what runs beyond the end is cut."""
    whole = np.zeros(round(seconds * RATE_HZ))
    for at_s, part in parts:
        start = round(at_s * RATE_HZ)
        whole[start : start + len(part)] += part[: max(0, len(whole) - start)]
    return whole


def crackle(rng: np.random.RandomState, seconds: float, per_s: float, fall_s: float) -> Sound:
    """Sparks at random times that become rarer and weaker, each a short ring between 1.5 and 5.5
    kHz.
    """
    sparks = []
    for _ in range(round(per_s * fall_s)):
        at_s = -fall_s * np.log(1 - rng.uniform() * (1 - np.exp(-seconds / fall_s)))
        level = rng.uniform(-1, 1) * np.exp(-at_s / (2 * fall_s))
        sparks.append(
            (
                at_s,
                level * ring(0.006, [(rng.uniform(1500, 5500), 1.0, rng.uniform(0.0004, 0.0016))]),
            )
        )
    return placed(seconds, *sparks)


def buzz(rng: np.random.RandomState, seconds: float, pulses_hz: float) -> Sound:
    """Electric buzz: sharp pulses of alternating sign, none quite like the one before."""
    pulses = []
    at_s = 0.0
    sign = 1.0
    while at_s < seconds:
        pulses.append(
            (
                at_s,
                sign
                * rng.uniform(0.7, 1.0)
                * ring(0.008, [(rng.uniform(900, 1300), 1.0, 0.0012), (3100, 0.6, 0.0006)]),
            )
        )
        at_s += (1 + rng.uniform(-0.04, 0.04)) / pulses_hz
        sign = -sign
    return placed(seconds, *pulses)


def arc_crack(seed: int, pulses_hz: float) -> Sound:
    """The arc strikes: a sharp crack, sparks, and a buzz that dies away; 350 ms."""
    rng = np.random.RandomState(seed)
    seconds = 0.35
    t = time_s(seconds)
    blast = (
        rng.uniform(-1, 1, len(t))
        * (1 - np.exp(-t / 0.0002))
        * (np.exp(-t / 0.007) + 0.12 * np.exp(-t / 0.06))
    )
    body = ring(seconds, [(760, 0.5, 0.022), (1180, 0.4, 0.016), (1930, 0.3, 0.011)])
    sparks = crackle(rng, seconds, 900, 0.11)
    tail = buzz(rng, seconds, pulses_hz) * (1 - np.exp(-t / 0.012)) * np.exp(-t / 0.1)
    mixed = 1.6 * band(blast, 700, 7000) + body + 0.8 * sparks + 0.9 * tail
    return finished(np.tanh(1.5 * mixed), 0.0005, 0.06)


def lever_clunk() -> Sound:
    """The thumb lever meets its stop and settles; 80 ms."""
    rng = np.random.RandomState(41)
    tick = band(
        rng.uniform(-1, 1, round(0.05 * RATE_HZ)) * np.exp(-time_s(0.05) / 0.0015), 900, 6000
    )
    stop = ring(
        0.05, [(810, 1.0, 0.014), (1360, 0.7, 0.010), (2230, 0.5, 0.006), (3570, 0.3, 0.004)]
    )
    return finished(
        placed(0.08, (0.0, 0.5 * tick), (0.001, stop), (0.024, 0.45 * stop), (0.024, 0.3 * tick)),
        0.0003,
        0.02,
    )


def dry_click() -> Sound:
    """The lever finds no oil: a thin double click; 60 ms."""
    rng = np.random.RandomState(42)
    tick = band(
        rng.uniform(-1, 1, round(0.03 * RATE_HZ)) * np.exp(-time_s(0.03) / 0.0009), 1500, 6500
    )
    plate = ring(0.03, [(1720, 0.8, 0.004), (2890, 0.6, 0.003), (4310, 0.4, 0.002)])
    return finished(
        placed(0.06, (0.0, tick + plate), (0.031, -0.6 * (tick + plate))), 0.0003, 0.012
    )


def refill_glug() -> Sound:
    """Oil runs in: bubbles whose pitch rises as the vessel fills, over a thin stream; 900 ms."""
    rng = np.random.RandomState(43)
    seconds = 0.9
    stream = band(rng.uniform(-1, 1, round(seconds * RATE_HZ)), 1200, 4200)
    swell = 0.5 - 0.5 * np.cos(2 * np.pi * time_s(seconds) / seconds)
    bubbles = []
    for number in range(8):
        at_s = 0.02 + 0.098 * number + rng.uniform(-0.02, 0.028)
        bubbles.append(
            (
                at_s,
                rng.uniform(0.6, 1.0) * bubble(640 * 1.085**number * rng.uniform(0.96, 1.04), 0.11),
            )
        )
        bubbles.append(
            (at_s + 0.035, 0.35 * bubble(1150 * 1.07**number * rng.uniform(0.9, 1.1), 0.06))
        )
    return finished(placed(seconds, *bubbles) + 0.10 * stream * swell, 0.005, 0.06)


def bubble(start_hz: float, seconds: float) -> Sound:
    """One bubble: rises by a fifth while it rings out, with an overtone for a small speaker."""
    t = time_s(seconds)
    phase = 2 * np.pi * start_hz * (t + 0.25 * t**2 / seconds)
    swing = (1 - np.exp(-t / 0.004)) * np.exp(-t / (0.3 * seconds))
    return swing * (np.sin(phase) + 0.45 * np.sin(2 * phase) + 0.15 * np.sin(3 * phase))


def low_bell() -> Sound:
    """A small bell that asks for attention; 450 ms."""
    modes = [
        (1245, 0.6, 0.16),
        (1252, 0.4, 0.15),
        (2490, 1.0, 0.11),
        (3760, 0.5, 0.07),
        (5230, 0.3, 0.04),
    ]
    return finished(ring(0.45, modes), 0.0005, 0.12)


def arc_hum() -> tuple[Sound, tuple[int, int]]:
    """The arc burns: 120 ms of rise, then a loop of exactly one second. Every part of it repeats
    after a second, so there is no seam.
    """
    rng = np.random.RandomState(44)
    t = time_s(1.0)
    hum = np.zeros(len(t))
    for overtone in range(5, 46):
        frequency = ARC_HZ * overtone
        level = 1 / (1 + ((frequency - 1100) / 700) ** 2) + 0.4 / (
            1 + ((frequency - 2900) / 500) ** 2
        )
        hum += level * np.sin(2 * np.pi * frequency * t + rng.uniform(0, 2 * np.pi))
    hum *= 1 + 0.18 * np.sin(2 * np.pi * 7 * t) + 0.12 * np.sin(2 * np.pi * 3 * t + 1)
    hiss = band(rng.uniform(-1, 1, len(t)), 1800, 6000) * (
        0.6 + 0.4 * np.sin(2 * np.pi * 2 * ARC_HZ * t)
    )
    return rising_loop(band(hum, 600, 6500) / np.abs(hum).max() + 0.35 * hiss, 0.12)


def storm_gust() -> tuple[Sound, tuple[int, int]]:
    """Wind around the lantern: a rise, then a loop of a second and a half that swells and
    whistles.
    """
    rng = np.random.RandomState(45)
    seconds = 1.5
    t = time_s(seconds)
    turn = 2 * np.pi * t / seconds
    air = rng.uniform(-1, 1, len(t))
    low = band(air, 600, 1300)
    high = band(air, 1300, 3200)
    whistle = band(rng.uniform(-1, 1, len(t)), 980, 1080)
    swell = 0.62 + 0.25 * np.sin(turn) + 0.13 * np.sin(2 * turn + 2)
    return rising_loop(
        swell * (low + 0.6 * swell * high + 0.9 * (0.5 + 0.5 * np.sin(turn - 1)) * whistle), 0.2
    )


def rising_loop(turn: Sound, rise_s: float) -> tuple[Sound, tuple[int, int]]:
    """The end of the loop faded in, then the loop itself, at -1 dBFS; and where the loop lies."""
    turn = turn - turn.mean()
    rise = round(rise_s * RATE_HZ)
    fade = np.sin(np.pi / 2 * np.arange(rise) / rise)
    sound = np.concatenate([turn[len(turn) - rise :] * fade, turn])
    return sound * (PEAK / np.abs(sound).max()), (rise, rise + len(turn))


def finished(sound: Sound, fade_in_s: float, fade_out_s: float) -> Sound:
    """Without what a small speaker cannot do, faded at both ends, without DC, at -1 dBFS."""
    padded = np.concatenate([sound, np.zeros(len(sound))])
    sound = band(padded, 500, 8000)[: len(sound)]
    window = np.ones(len(sound))
    fade_in = round(fade_in_s * RATE_HZ)
    fade_out = round(fade_out_s * RATE_HZ)
    window[:fade_in] = 0.5 - 0.5 * np.cos(np.pi * np.arange(fade_in) / fade_in)
    window[len(sound) - fade_out :] = 0.5 + 0.5 * np.cos(
        np.pi * np.arange(1, fade_out + 1) / fade_out
    )
    sound = sound * window
    sound = sound - window * (sound.sum() / window.sum())
    return sound * (PEAK / np.abs(sound).max())


def wav_bytes(sound: Sound, loop: tuple[int, int] | None) -> bytes:
    """A 16-bit mono WAV file, with the loop in a `smpl` chunk, whose end is the last sample
    played.
    """
    data = np.rint(sound * 32767).astype("<i2").tobytes()
    body = (
        b"WAVEfmt "
        + struct.pack("<IHHIIHH", 16, 1, 1, RATE_HZ, 2 * RATE_HZ, 2, 16)
        + b"data"
        + struct.pack("<I", len(data))
        + data
    )
    if loop:
        head = struct.pack("<9I", 0, 0, round(1e9 / RATE_HZ), 60, 0, 0, 0, 1, 0)
        body += (
            b"smpl"
            + struct.pack("<I", 60)
            + head
            + struct.pack("<6I", 0, 0, loop[0], loop[1] - 1, 0, 0)
        )
    return b"RIFF" + struct.pack("<I", len(body)) + body


CLIPS: dict[str, Callable[[], Sound | tuple[Sound, tuple[int, int]]]] = {
    "crack_a": lambda: arc_crack(11, 236),
    "crack_b": lambda: arc_crack(12, 251),
    "crack_c": lambda: arc_crack(13, 223),
    "clunk": lever_clunk,
    "dry": dry_click,
    "glug": refill_glug,
    "bell": low_bell,
    "hum": arc_hum,
    "gust": storm_gust,
}


def write_all(folder: Path) -> None:
    """Write every clip into a folder, made if need be."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, make in CLIPS.items():
        made = make()
        sound, loop = made if isinstance(made, tuple) else (made, None)
        (folder / f"{name}.wav").write_bytes(wav_bytes(sound, loop))


if __name__ == "__main__":
    write_all(Path(__file__).parent / "clips")
