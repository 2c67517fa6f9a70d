"""Camera RGB near the white level, where channels clip one after the other.

A white-balanced clipped pixel turns magenta, as green usually clips first. The rule here is
local: a clipped channel is raised to the mean of the channels that still hold (a pixel is
taken to be no more coloured than they say), and where all are clipped the pixel becomes
neutral at the brightest level any channel can state. Own rule, common practice, no source.
"""

import numpy as np

_ONSET = np.float32(0.95)
_SPAN = np.float32(1) - _ONSET
_LEAST = np.float32(1e-6)
_ONE, _TWO, _THREE = np.float32(1), np.float32(2), np.float32(3)


def raise_clipped_channels(camera, neutral):
    """Replace clipped channels by what the others suggest.

    Parameters
    ----------
    camera : ndarray, shape (3, h, w), float32
        Camera RGB, white level 1, not white-balanced.
    neutral : array_like, shape (3,)
        Camera RGB of a neutral surface under the as-shot white.

    Returns
    -------
    ndarray, shape (3, h, w), float32
        Equal to the input where all channels are below 0.95; clipped channels may exceed 1.
        The change sets in smoothly between 0.95 and 1.
    """
    peak = camera.max(axis=0)
    if peak.max(initial=0) <= _ONSET:
        return camera
    result = camera.copy()
    near = peak > _ONSET
    result[:, near] = _recover(camera[:, near], np.asarray(neutral, np.float32)[:, None])
    return result


def _recover(camera, neutral):
    """The rule for pixels of shape (3, n) with at least one channel above the onset."""
    balanced = camera / neutral
    clipped = _smooth_step((camera - _ONSET) / _SPAN)
    held = _ONE - clipped
    mean_held = (held * balanced).sum(axis=0) / np.maximum(held.sum(axis=0), _LEAST)
    rise = clipped * np.maximum(mean_held - balanced, 0)
    raised = balanced + rise
    rise += clipped.min(axis=0) * (raised.max(axis=0) - raised)
    return camera + rise * neutral


def _smooth_step(t):
    t = np.clip(t, 0, _ONE)
    return t * t * (_THREE - _TWO * t)
