"""Which noise a frame is taken to have: its file's, its own, its camera's, or a cautious bound.

Where it is not sure, noise is rather taken for texture than texture for noise.
"""

from dataclasses import replace

from grading.develop.noise import usual_offset
from grading.frame import Noise, NoiseSource

LARGEST_WELL, SMALLEST_WELL = 60_000, 2_500
"""Electrons that a site holds at ISO 100: a large one, and one of the smallest (from memory)."""
APART = 2.0
"""How far what a file states may be from what its frame shows."""


def settle(measured, iso, stated=None):
    """The noise of a frame before any other frame is asked.

    Parameters
    ----------
    measured : Measured or None
    iso : float or None
        The speed of the frame; where it is not known, the bound is that of ISO 100.
    stated : tuple of float, optional
        Gain and offset in the file, as `grading.files.metadata.dngtags.noise_profile` reads them.

    Returns
    -------
    Noise
    NoiseSource
    """
    if stated and _is_sane(Noise(*stated), measured):
        return Noise(*stated), NoiseSource(NoiseSource.STATED, measured)
    possible = iso is None or measured is None or (
        measured.noise.gain <= _gain_of(SMALLEST_WELL, iso)
    )
    if measured and measured.sure and possible:
        return measured.noise, NoiseSource(NoiseSource.MEASURED, measured)
    return _bound(measured, iso), NoiseSource(NoiseSource.BOUND, measured)


def with_shown(frame, shown):
    """A frame with the noise that other frames show, where itself it cannot tell.

    Parameters
    ----------
    frame : Frame
    shown : Shown or None
        None where no other frame can tell either.

    Returns
    -------
    Frame
        The same where it is sure of its own noise, or is no mosaic.
    """
    source = frame.facts.noise_source
    if source is None or source.sure or shown is None:
        return frame
    noise = _no_more_than(shown.noise, source.measured)
    source = replace(source, name=NoiseSource.SHOWN, shown=shown)
    sensor = frame.pixels.sensor._replace(noise=tuple(noise))
    return replace(
        frame,
        facts=replace(frame.facts, noise=noise, noise_source=source),
        pixels=replace(frame.pixels, sensor=sensor),
    )


def _is_sane(noise, measured):
    """Whether it is a noise, not far above what the frame shows, nor far below if that is sure."""
    if not (0 < noise.gain < 1 and 0 <= noise.offset < 1):
        return False
    if measured is None:
        return True
    ratio = noise.variance(measured.level) / measured.noise.variance(measured.level)
    return ratio <= APART and (not measured.sure or ratio >= 1 / APART)


def _no_more_than(noise, measured):
    """Scaled down to the frame's own where it tells that: texture may raise it, nothing lowers it.

    As where a camera states another speed than it used.
    """
    if measured is None:
        return noise
    own = measured.noise.variance(measured.level)
    share = min(1.0, own / noise.variance(measured.level))
    return Noise(share * noise.gain, share * noise.offset)


def _bound(measured, iso):
    """The frame's own, but no more than that of a sensor with large sites."""
    if measured is None:
        return Noise(0.0, 0.0)
    gain = _gain_of(LARGEST_WELL, iso)
    offset = min(measured.noise.offset, usual_offset(gain))
    return Noise(min(measured.noise.gain, gain), offset)


def _gain_of(well, iso):
    """Gain of a sensor whose sites hold so many electrons at ISO 100."""
    return (iso or 100) / 100 / well
