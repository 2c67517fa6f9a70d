"""Whether two frames show the same, whatever their exposure: correlation of small pictures.

A picture is the logarithm of the light at 64 x 64 places, without its coarsest part and faded to
the edges. Two of them are laid over each other where they fit best (phase of their spectra: Kuglin
and Hines, Proc. IEEE Int. Conf. Cybernetics and Society 163, 1975; here the plain correlation,
which tells likeness too).
"""

import numpy as np

SIDE = 64
DARKEST = 2.0**-11
FARTHEST = 10
"""Places by which one may be moved against the other."""

_FADE = np.hanning(SIDE + 2)[1:-1] ** 0.5
FADE = np.outer(_FADE, _FADE)


def small_picture(light: np.ndarray) -> np.ndarray:
    """What is compared of a frame.

    Parameters
    ----------
    light : ndarray, shape (rows, columns)
        Linear.

    Returns
    -------
    ndarray, shape (64, 64), float32
        Length 1; all 0 of a frame without detail, or of less than 64 pixels each way.
    """
    if min(light.shape) < SIDE:
        return np.zeros((SIDE, SIDE), np.float32)
    edges = [np.linspace(0, size, SIDE + 1).astype(int)[:-1] for size in light.shape]
    counts = [np.diff(np.append(e, size)) for e, size in zip(edges, light.shape, strict=True)]
    sums = np.add.reduceat(np.add.reduceat(light, edges[0], axis=0), edges[1], axis=1)
    stops = np.log2(np.maximum(sums / np.outer(*counts), DARKEST))
    stops -= _plane(stops)
    faded = stops * FADE
    length = np.sqrt((faded**2).sum())
    return (faded / length if length > 0.05 * SIDE else np.zeros_like(faded)).astype(np.float32)


def _plane(stops):
    """The slope of a picture, which clouds and exposure change."""
    ramp = np.linspace(-1, 1, SIDE)
    down, across = (stops.mean(1) @ ramp, stops.mean(0) @ ramp) / (ramp @ ramp)
    return stops.mean() + down * ramp[:, None] + across * ramp


def likeness(first: np.ndarray, second: np.ndarray) -> float:
    """Correlation of two small pictures where they fit best, up to 1."""
    spectra = np.fft.rfft2(first), np.fft.rfft2(second)
    fit = np.fft.irfft2(spectra[0] * spectra[1].conj(), first.shape)
    near = np.roll(fit, (FARTHEST, FARTHEST), (0, 1))[: 2 * FARTHEST + 1, : 2 * FARTHEST + 1]
    return float(near.max())
