"""Photographs of known lean, drawn by code: at sea, in harbours and streets, of people, at night.

Limits were set on all of them, on those of each module after the first once it had been judged
unseen: whoever wants to judge what finds leans invents others. `SEAS` are open seas. `AFLOAT` are
views past what leans with a boat: where no horizon is in sight, nothing tells them from a house.
"""

import zlib

import numpy as np

from inspect_frames import blurred, path, shot
from lean_frames import tuned, tuned_fifth, tuned_fourth, tuned_second, tuned_sixth, tuned_third
from lean_frames.camera import recorded

SIZES = ((300, 450), (400, 600), (500, 750), (480, 640), (600, 400))
ISO = (100, 200, 400, 800, 1600, 3200, 6400)
SEAS = (
    *tuned.SEAS, *tuned_second.SEAS, *tuned_third.SEAS, *tuned_fourth.SEAS, *tuned_fifth.SEAS,
    *tuned_sixth.SEAS,
)  # fmt: skip
OTHERS = (
    *tuned.OTHERS, *tuned_second.PARTLY, *tuned_second.OTHERS, *tuned_third.OTHERS,
    *tuned_fourth.PARTLY, *tuned_fourth.OTHERS, *tuned_fifth.PARTLY, *tuned_sixth.PARTLY,
)  # fmt: skip
EVERY = (*SEAS, *OTHERS)
AFLOAT = tuned_sixth.AFLOAT


def _generator(scene, seed):
    return np.random.default_rng((zlib.crc32(scene.__name__.encode()), seed))


def drawn(scene, seed, size=None):
    """A frame of a kind, at the size that a lean is looked for at.

    Returns
    -------
    light : ndarray, shape (rows, columns), float32
    noise : Noise
    roll : float
        Degrees by which the camera was turned.
    """
    rng = _generator(scene, seed)
    canvas = scene(rng, size or SIZES[seed % len(SIZES)])
    return *recorded(canvas.taken(), seed, int(rng.choice(ISO))), canvas.camera.roll


def shaken(scene, seed, size=(640, 960)):
    """A frame of a kind taken with a camera that moved, as an original; its roll, and the pixels of
    the original that the camera moved by."""
    rng = _generator(scene, seed)
    canvas = scene(rng, size)
    length = float(np.exp(rng.uniform(np.log(3), np.log(40))))
    light = blurred(canvas.taken(), path(length, rng.uniform(0, 180), rng.choice([0, 0, 0.3])))
    return shot(light, seed, int(rng.choice(ISO[:5]))), canvas.camera.roll, length
