"""Sets of forty frames with their labels: six shaken, four out of focus, three over- and two
underexposed, and four bursts."""

from dataclasses import dataclass, field

import numpy as np
from scipy.ndimage import gaussian_filter

from inspect_frames import blurred, circle, moved, path, shot, turned

FRAMES, BURSTS = 40, (3, 12, 21, 30)
"""How many, and where bursts begin."""


@dataclass
class Label:
    """The truth about a frame; ``length`` in pixels and ``angle`` in degrees if it is shaken."""

    word: str | None = None
    length: float = 0.0
    angle: float = 0.0
    roll: float = 0.0
    blur: float = 0.0
    burst: tuple[int, ...] | None = field(default=None)


def labelled_set(scene, seed):
    """Frames one after the other, each with its label.

    Parameters
    ----------
    scene : callable
        Light of the scene of a number, upright.
    seed : int
    """
    rng = np.random.default_rng(seed)
    bursts = [tuple(range(first, first + rng.integers(3, 5))) for first in BURSTS]
    burst_of = {number: burst for burst in bursts for number in burst}
    single = rng.permutation([n for n in range(FRAMES) if n not in burst_of])
    words = dict(zip(single.tolist(), ["shaken"] * 6 + ["out of focus"] * 4 + ["overexposed"] * 3
                     + ["underexposed"] * 2, strict=False))  # fmt: skip
    seconds = roll = iso = 0
    for number in range(FRAMES):
        burst = burst_of.get(number)
        follows = burst is not None and number > burst[0]
        seconds += rng.choice([0.0, 1.0]) if follows else rng.uniform(25, 90)
        if not follows:
            light, roll = scene(number), rng.normal(0, 1.5)
            iso = int(rng.choice([100, 200, 400, 800, 1600, 3200, 6400]))
        label = Label(words.get(number), roll=roll, burst=burst)
        picture = turned(light, label.roll)
        if burst:
            picture = moved(picture, rng.normal(0, 3), rng.normal(0, 4))
        picture = _treated(picture, label, rng)
        stops = rng.normal(0, 0.3) + _error(label.word, rng)
        yield shot(picture, seed * 100 + number, iso, stops, float(seconds)), label


def _treated(picture, label, rng):
    if label.word == "shaken":
        label.length, label.angle = rng.uniform(7, 24), rng.uniform(0, 180)
        return blurred(picture, path(label.length, label.angle, rng.choice([0, 0, 0.3])))
    if label.word == "out of focus":
        radius = rng.uniform(4.5, 8)
        if rng.random() < 0.4:
            return gaussian_filter(picture, radius / 1.8)
        return blurred(picture, circle(radius))
    if label.burst is not None:
        label.blur = float(rng.uniform(0.2, 1.2))
        return gaussian_filter(picture, label.blur)
    return picture


def _error(word, rng):
    """Stops by which a frame is exposed wrongly on purpose."""
    if word == "overexposed":
        return rng.uniform(2.4, 3.2)
    return -rng.uniform(2.8, 3.6) if word == "underexposed" else 0.0
