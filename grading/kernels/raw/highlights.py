"""The guide by which clipped highlights are rebuilt: the light about each place of a frame.

At a small fraction of the frame's size it holds the colour of the light, which goes on smoothly
from the bright, unclipped surroundings into the clipped places, also by what two channels tell
where the third clips, and fades to neutral far from all that is known; and the level where all
channels clip, which goes on in value and slope from the rim, like a thin plate.
`survey` and `conclude` read the mosaic about what clips, `relax` and `plate` fill the guide, and
`rebuild` reads it.
"""

import numpy as np

from grading.kernels.primitives import clamp, compiled, exp2, log2
from grading.kernels.raw.conclude import (
    BRIGHT,
    BURNT,
    FLOW,
    RATIO,
    RATIO_WEIGHT,
    SIGNAL,
    SIGNAL_WEIGHT,
    extreme,
)
from grading.kernels.raw.plate import NOWHERE, plate
from grading.kernels.raw.rebuild import CLIP, ONSET
from grading.kernels.raw.relax import colours, pyramid_of
from grading.kernels.raw.survey import cells_of, find_highest, survey

TINY = np.float32(1e-6)
PUREST = np.float32(5 / np.log(2))
"""How many stops a guide's colour may have between green and red or blue."""

SURROUNDINGS = 8
"""Cells in each direction about one in which anything clips that are looked at. These screen those
further away: on the demo set no pixel differs by 1/10,000 stop from what all cells give."""

LYING = np.float32(0.3)
"""Share of a cell's blocks that clip in every channel from which its level lies on the floor."""

SLANT = np.float32(0.3)
"""Stops by which the floor lies lower than clipping tells in a cell of which next to nothing
clips."""


def highlight_guide(mosaic, sensor, balance):
    """Colour and level of the light around clipped places.

    Parameters
    ----------
    mosaic : ndarray, shape (rows, columns), uint16
        The whole frame's counts, C-contiguous.
    sensor : Sensor
        Phase and levels.
    balance : array_like, shape (3,)
        White-balance gains, green 1.

    Returns
    -------
    ndarray, shape (4, cells down, cells across), float32, or None
        Of each cell of 8x8 pixels, of which the first begins at the first red site or a pixel
        before the frame: balanced red, green and blue, and their sum times the light where all
        clip. Their own sum says how much the cell counts where it is looked up beside others.
        Cells far from all that clips count next to nothing. None where the frame has nothing
        clipped.
    """
    cells = survey_clipped(mosaic, sensor, balance)
    return None if cells is None else guide_of(cells, balance)


def survey_clipped(mosaic, sensor, balance):
    """The first half of `highlight_guide`: what the cells near clipped sites tell.

    Returns
    -------
    ndarray, or None
        From `grading.kernels.raw.survey.survey`; None where the frame has nothing clipped.
    """
    highest = np.empty(cells_of(mosaic, sensor), np.uint16)
    find_highest(mosaic, sensor.phase, highest)
    brightest = (float(highest.max()) - sensor.black.min()) * sensor.scale.max()
    if brightest < CLIP:
        return None
    near = _near_clipped(highest, sensor)
    return survey(mosaic, sensor, np.asarray(balance, np.float32), near) if near.any() else None


def guide_of(cells, balance):
    """The second half of `highlight_guide`: the guide that cells tell of, on one thread."""
    gains = np.asarray(balance, np.float32)
    ratios, weights = cells[RATIO:RATIO_WEIGHT], cells[RATIO_WEIGHT:SIGNAL]
    pyramid = pyramid_of(cells[FLOW])
    hue = np.clip(colours(ratios, weights, pyramid), -PUREST, PUREST)
    level, weight, floor = np.empty((3, *hue.shape[1:]), np.float32)
    _find_level(cells, hue, gains, level, weight, floor)
    level = plate(level, weight, floor, pyramid)
    guide = np.empty((4, *hue.shape[1:]), np.float32)
    _to_light(hue, level, cells[BRIGHT], guide)
    return guide


def _near_clipped(highest, sensor):
    """Cells within `SURROUNDINGS` cells of one in which a site may count less than whole."""
    lines = sensor.row_black.min() + sensor.column_black.min()
    limit = ONSET / sensor.scale.max() + sensor.black.min() + lines
    return extreme(np.maximum, highest >= np.floor(limit), SURROUNDINGS)


@compiled
def _find_level(cells, hue, gains, level, weight, floor):
    """The level of green, in stops, that a cell's known channels tell, and what this weighs; and
    the least level at which all channels clip."""
    one, lowest = np.float32(1), TINY
    stops = (log2(gains[0]), log2(gains[1]), log2(gains[2]))
    for i in range(level.shape[0]):
        for j in range(level.shape[1]):
            red, blue = exp2(hue[0, i, j]), exp2(hue[1, i, j])
            signal = gains[0] * cells[SIGNAL, i, j] + gains[1] * cells[SIGNAL + 1, i, j]
            signal = signal + gains[2] * cells[SIGNAL + 2, i, j]
            share = cells[SIGNAL_WEIGHT, i, j] * red + cells[SIGNAL_WEIGHT + 1, i, j]
            share = share + cells[SIGNAL_WEIGHT + 2, i, j] * blue
            level[i, j] = log2(max(signal, lowest * share + lowest)) - log2(share + lowest)
            burnt = cells[BURNT, i, j]
            known = cells[SIGNAL_WEIGHT, i, j] + cells[SIGNAL_WEIGHT + 1, i, j]
            known = known + cells[SIGNAL_WEIGHT + 2, i, j]
            weight[i, j] = known * (one - burnt) * (one - burnt)
            least = max(max(stops[0] - hue[0, i, j], stops[1]), stops[2] - hue[1, i, j])
            lying = least - SLANT * (one - burnt)
            floor[i, j] = lying if burnt > LYING else NOWHERE


@compiled
def _to_light(hue, level, bright, guide):
    """Colours and levels times what their cells count: bright ones far more than dark ones, so that
    there is no colour of a hill in the sky before it."""
    one = np.float32(1)
    for i in range(level.shape[0]):
        for j in range(level.shape[1]):
            red, blue = exp2(hue[0, i, j]), exp2(hue[1, i, j])
            square = max(bright[i, j], np.float32(0.01)) * max(bright[i, j], np.float32(0.01))
            sixth = square * square * square
            total = red + one + blue
            share = sixth * sixth / total
            guide[0, i, j], guide[1, i, j], guide[2, i, j] = share * red, share, share * blue
            guide[3, i, j] = sixth * sixth * exp2(clamp(level[i, j], NOWHERE, -NOWHERE)) * total
