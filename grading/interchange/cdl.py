"""A look as an ASC CDL (v1.2): ten numbers, exact for a recipe that states them, else fitted.

The decision acts on the sRGB codes of the picture without a look, which is what the stage ``cdl``
does in a recipe that states nothing else. Fitted are the look's own codes of colours of moderate
chroma that stay within sRGB and of a scale of greys, by least squares (Levenberg, Quart. Appl.
Math. 2:164, 1944, with the damping of Marquardt, J. SIAM 11:431, 1963).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from grading.cdl_text import Decision, write_decision
from grading.colour import oklab, spaces, transfer
from grading.interchange.portable import left_out, portable_look
from grading.stages import cdl

if TYPE_CHECKING:
    from grading.recipe.load import Recipe

GRID = 9
"""Codes a channel of the colours that are fitted."""

GREY_WEIGHT = 3
"""Of a grey's difference; a tint in a grey is seen before one in a colour."""

RESTRAINT = 0.1
"""What a number's distance from the identity weighs, so that none runs off to no effect."""

SLACK = 1e-4
"""How far outside of 0..1 a linear channel may lie and still count as within sRGB."""

DECIMALS = 5
"""Of the fitted numbers."""

_SOURCE = "sRGB codes (IEC 61966-2-1) of the picture without a look, display-referred, 0 to 1"
_IDENTITY = np.array([1.0] * 3 + [0.0] * 3 + [1.0] * 3 + [1.0])
_LOWEST = np.array([0.0] * 3 + [-10.0] * 3 + [0.05] * 3 + [0.0])
_HIGHEST = np.array([100.0] * 3 + [10.0] * 3 + [20.0] * 3 + [20.0])
_SHARED = np.array([0, 3, 6, 9])
"""Of the ten numbers those that are fitted where greys stay grey: one for all channels."""


def export_cdl(recipe: Recipe) -> tuple[str, list[str]]:
    """What of a recipe a colour decision can carry.

    Parameters
    ----------
    recipe : Recipe

    Returns
    -------
    text : str
        Of a file with one ColorCorrection (.cc); the same for the same recipe.
    left_out : list of str
        Sentences on what it does not carry, and how close it is.
    """
    look = portable_look(recipe)
    sentences = left_out(recipe)
    if look.is_plain and np.array_equal(look.light, np.eye(3, 4)):
        decision = look.decision or cdl.Cdl()
    else:
        decision, closeness = _fit(look)
        sentences += closeness
    text = write_decision(decision, recipe.title, sentences, _SOURCE)
    return text, sentences


def apply_decision(codes: np.ndarray, decision: Decision) -> np.ndarray:
    """Codes with a decision: clamp(slope * code + offset) ** power, then saturation.

    Parameters
    ----------
    codes : ndarray, shape (n, 3), float64
    decision : Decision

    Returns
    -------
    ndarray, shape (n, 3), float64
        Within 0..1.

    Examples
    --------
    >>> double = Decision(slope=(2.0, 2.0, 2.0), power=(2.0, 2.0, 2.0))
    >>> apply_decision(np.full((1, 3), 0.25), double).tolist()
    [[0.25, 0.25, 0.25]]
    """
    sop = np.clip(codes * decision.slope + decision.offset, 0, 1) ** decision.power
    luma = sop @ np.array([0.2126, 0.7152, 0.0722])
    return np.clip(luma[:, None] + decision.saturation * (sop - luma[:, None]), 0, 1)


def _fit(look):
    """The nearest decision, and sentences on how near it is."""
    codes = _codes()
    wanted, inside = _graded_codes(look, codes)
    codes, wanted = codes[inside], wanted[inside]
    weight = np.where(_is_grey(codes), GREY_WEIGHT, 1)[:, None]

    tinted = np.ptp(wanted[_is_grey(codes)], axis=1).max() > 1e-3
    kept = np.arange(10) if tinted else _SHARED

    def residuals(numbers):
        off = weight * (apply_decision(codes, _decision(numbers)) - wanted)
        return np.concatenate([off.ravel(), RESTRAINT * (numbers - _IDENTITY[kept])])

    decision = _decision(_least_squares(residuals, kept).round(DECIMALS))
    off = np.abs(apply_decision(codes, decision) - wanted) * 1023
    return decision, [
        f"fit: the decision is on average {off.mean():.1f} and at most {off.max():.0f} codes of "
        "10 bits from the look, over colours of moderate chroma and a scale of greys; it bends "
        "each channel by one power and has one saturation for all hues.",
        "highlights: the decision begins with codes up to 1, so light above white is lost where "
        "the look's tone curve would have shown it.",
    ]


def _codes():
    """An even grid of colours, moved half of the way to grey, and a scale of greys."""
    steps = np.linspace(0, 1, GRID)
    colours = np.stack(np.meshgrid(steps, steps, steps, indexing="ij"), axis=-1).reshape(-1, 3)
    greys = np.repeat(np.linspace(0, 1, len(colours))[:, None], 3, axis=1)
    return np.vstack([(colours + colours.mean(axis=1, keepdims=True)) / 2, greys])


def _is_grey(codes):
    return np.ptp(codes, axis=1) < 1e-9


def _graded_codes(look, codes):
    """sRGB codes that the look makes of the light behind codes, and which are within sRGB.

    Greys count as within, since white and black hold there in both.
    """
    to_working = spaces.rgb_to_rgb(cdl.SPACE, spaces.WORKING)
    light = transfer.decode(cdl.SPACE.transfer, codes) @ to_working.T
    light = light @ look.light[:, :3].T + look.light[:, 3]
    lab = look.apply(oklab.working_to_oklab(light))
    if look.decision is not None:
        pixels = np.ascontiguousarray(lab.T[:, None], dtype=np.float32)
        lab = cdl.apply(pixels, cdl.prepare(look.decision, None))[:, 0].T.astype(np.float64)
    linear = oklab.oklab_to_xyz(lab) @ spaces.xyz_to_rgb(cdl.SPACE).T
    within = (linear.min(axis=1) >= -SLACK) & (linear.max(axis=1) <= 1 + SLACK)
    return transfer.encode(cdl.SPACE.transfer, np.clip(linear, 0, 1)), within | _is_grey(codes)


def _decision(numbers):
    """A decision of ten numbers, or of four, with the same slope, offset and power for all."""
    numbers = numbers if len(numbers) == 10 else np.repeat(numbers, (3, 3, 3, 1))
    slope, offset, power = numbers[:9].reshape(3, 3).tolist()
    return Decision(tuple(slope), tuple(offset), tuple(power), float(numbers[9]))


def _least_squares(residuals, kept, rounds=60):
    """Numbers, of the ten those that are kept, at which the squares of residuals are least."""
    numbers, lowest, highest = (each[kept] for each in (_IDENTITY, _LOWEST, _HIGHEST))
    damping, now = 1e-3, residuals(numbers)
    for _ in range(rounds):
        slopes = np.stack([(residuals(numbers + 1e-6 * e) - now) / 1e-6 for e in np.eye(len(kept))])
        normal = slopes @ slopes.T
        step = np.linalg.solve(normal + damping * np.diag(np.diag(normal) + 1e-9), -slopes @ now)
        tried = np.clip(numbers + step, lowest, highest)
        then = residuals(tried)
        better = then @ then < now @ now
        numbers, now = (tried, then) if better else (numbers, now)
        damping *= 0.3 if better else 5
    return numbers
