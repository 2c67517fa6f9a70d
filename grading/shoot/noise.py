"""What the frames of a run show of their cameras' noise, for those that cannot tell by themselves.

A frame that is sure of its noise is not asked about any other. For one that is not, frames of the
same camera are opened, the nearest in the run's order first, until enough are sure at its ISO
speed. Which ones count follows from the originals of the run alone, so neither the order of work,
nor the number of workers, nor what is kept from an earlier run changes a pixel.
"""

from math import inf
from statistics import median
from typing import NamedTuple

from grading.develop.noise import usual_offset
from grading.develop.noise_source import with_shown
from grading.errors import OriginalError, SidecarError
from grading.files.originals import open_frame
from grading.frame import Noise, NoiseSource, Shown
from grading.shoot.originals import kinds

ENOUGH = 3
"""Sure frames of one speed that are asked."""
SAME, NEIGHBOURING = 1.2, 4.0
"""Ratios of speeds that count as one speed, and as near enough to tell of each other."""


class Told(NamedTuple):
    """What a frame that is sure of its noise tells of its camera."""

    camera: tuple
    iso: float
    noise: Noise


class NoiseOfRun:
    """The noise of a run's frames, each opened when it is asked for, and once.

    Parameters
    ----------
    originals : sequence of Path
        All of the run, in order, those too whose outputs are kept.
    **opening
        How they are opened: ``max_pixels``, ``accept_dark`` of `grading.open_frame`.
    """

    def __init__(self, originals, **opening):
        self.originals = tuple(originals)
        raws = (path for path in originals if kinds([path]) == {"raw"})
        self._places = {path: place for place, path in enumerate(raws)}
        self._opening = opening
        self._told = {}

    def settled(self, frame):
        """A frame with the noise that the others show, where it cannot tell by itself.

        Parameters
        ----------
        frame : Frame
            Just opened.

        Returns
        -------
        Frame
        """
        facts = frame.facts
        self._told[facts.path] = _told(facts)
        if facts.noise_source is None or facts.noise_source.sure:
            return frame
        return with_shown(frame, self.shown(facts.path, facts.capture))

    def shown(self, path, capture):
        """What the others show of a frame's noise.

        Parameters
        ----------
        path : Path
            Of the frame.
        capture : Capture

        Returns
        -------
        Shown or None
            As `shown_by` gives it of those that are sure; None where none of the camera is, at a
            neighbouring speed.
        """
        if not (capture.iso and capture.model):
            return None
        found, of_its_speed = [], 0
        for other in self._nearest(path):
            told = self._ask(other)
            if told and told.camera == (capture.make, capture.model):
                found.append(told)
                of_its_speed += _ratio(told.iso, capture.iso) <= SAME
            if of_its_speed == ENOUGH:
                break
        return shown_by(found, capture.iso)

    def _nearest(self, path):
        here = self._places.get(path, 0)
        others = (other for other in self._places if other != path)
        return sorted(others, key=lambda other: abs(self._places[other] - here))

    def _ask(self, path):
        if path not in self._told:
            try:
                self._told[path] = _told(open_frame(path, **self._opening).facts)
            except OriginalError:
                self._told[path] = None
        return self._told[path]


def _told(facts):
    """What a frame tells of its camera, None if it is not sure."""
    source, capture = facts.noise_source, facts.capture
    if source is None or not source.sure or not capture.iso:
        return None
    return Told((capture.make, capture.model), capture.iso, facts.noise)


def _ratio(speed, other):
    return max(speed / other, other / speed)


def shown_by(found, iso):
    """The noise of a camera at a speed, by frames that are sure of theirs.

    Parameters
    ----------
    found : sequence of Told
        Those to be asked first come first.
    iso : float

    Returns
    -------
    Shown or None
        The median of the first of the nearest speed, as the gain follows the speed; None where none
        is of a neighbouring speed.
    """
    nearest = min((_ratio(told.iso, iso) for told in found), default=inf)
    if nearest > NEIGHBOURING:
        return None
    near = [told for told in found if _ratio(told.iso, iso) <= SAME * nearest][:ENOUGH]
    at_iso = [_at_speed(told, iso) for told in near]
    gain, offset = (median(noise[k] for noise in at_iso) for k in range(2))
    return Shown(Noise(gain, offset), len(near))


def _at_speed(told, iso):
    """The noise of a frame as its camera would have it at another speed."""
    gain = told.noise.gain * iso / told.iso
    share = usual_offset(gain) / usual_offset(told.noise.gain)
    return Noise(gain, share * told.noise.offset)


def described(facts):
    """The noise of a frame for its sidecar, in plain numbers and words; empty for no mosaic."""
    source = facts.noise_source
    if source is None:
        return {}
    described = {**facts.noise._asdict(), "source": source.name}
    if source.measured:
        described["flat"] = source.measured.flat
        if not source.sure:
            described["measured"] = source.measured.noise._asdict()
    if source.shown:
        described["shown"] = {**source.shown.noise._asdict(), "frames": source.shown.frames}
    return {"noise": described}


def shown_in(record, place):
    """What other frames showed when an output was made, as its sidecar has it.

    Parameters
    ----------
    record : Sidecar
    place : Path
        Its own.

    Returns
    -------
    Shown or None

    Raises
    ------
    SidecarError
        If what it says is no noise.
    """
    shown = _noise_in(record).get("shown")
    if shown is None:
        return None
    try:
        noise = Noise(float(shown["gain"]), float(shown["offset"]))
        if not (0 <= noise.gain < inf and 0 <= noise.offset < inf):
            raise ValueError
        return Shown(noise, int(shown["frames"]))
    except (KeyError, TypeError, ValueError):
        raise SidecarError(
            f"measured.noise.shown = {shown!r}",
            place=str(place),
            allowed="a gain and an offset, neither negative, and a number of frames",
            remedy="restore the sidecar, or render the output again",
        ) from None


def depends_on_others(record):
    """Whether the noise that an output was made with would change with the frames of its run."""
    return _noise_in(record).get("source") in (NoiseSource.SHOWN, NoiseSource.BOUND)


def _noise_in(record):
    noise = record.measured.get("noise")
    return noise if isinstance(noise, dict) else {}
