"""Lenses of an open database, by what a frame says of its camera and lens.

The database is that of lensfun, read by lensfunpy (the extra ``grading[lens]``); its data are
licensed CC BY-SA 3.0. What it holds of a lens at a focal length and aperture is taken as
coefficients, so that a sidecar can state them.
"""

from __future__ import annotations

from functools import cache, lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from grading.errors import GradingError
from grading.lens.optics import Falloff, Optics, Warp

if TYPE_CHECKING:
    from grading.frame import Capture

SURE = 50
"""Score, of about 100, from which a lens counts as the one that is named."""

LARGER = 1.05
"""How much larger than the sensor on which a lens was measured the frame's may be."""

FAR = 1000.0
"""Metres of the distance that is taken for granted: files seldom state one."""

ASPECTS = (3 / 2, 4 / 3, 1.0, 16 / 9)
"""Of the pictures that a lens was measured on; the database knows which, but does not tell."""

ALIKE = 2e-4
"""Share of the short side by which our formula and the database's own may differ."""


class Known(NamedTuple):
    """What a database knows of a lens: its name, and the numbers for one frame."""

    name: str
    optics: Optics


@lru_cache(maxsize=64)
def known_lens(
    capture: Capture, width: int, height: int, name: str | None = None
) -> Known | None:
    """The lens of a frame, with its numbers at the frame's focal length and aperture.

    Parameters
    ----------
    capture : Capture
    width, height : int
        Of the frame.
    name : str, optional
        Of the lens, instead of what the file says.

    Returns
    -------
    Known or None
        None where camera or lens is not known for sure, or the focal length is not stated. Its
        optics have what was measured of the lens.

    Raises
    ------
    GradingError
        If lensfunpy is not installed.
    """
    camera = _camera(capture)
    lens = camera and _lens(camera, name or capture.lens)
    if not lens or not capture.focal_length:
        return None
    optics = _optics(lens, camera.crop_factor, capture, width, height)
    return Known(lens.model, optics.sound(width, height))


@cache
def _lensfunpy():
    try:
        import lensfunpy
    except ImportError:
        raise GradingError(
            "a recipe asks for the database of lenses, which is not installed",
            remedy="pip install 'grading[lens]', or state lens from: file",
        ) from None
    return lensfunpy


@cache
def _database():
    return _lensfunpy().Database()


def _key(text):
    return " ".join((text or "").casefold().split())


def _camera(capture):
    """A camera of this very make and model."""
    found = _database().find_cameras(capture.make, capture.model) if capture.model else []
    same = [c for c in found if _key(capture.make) in (_key(c.maker), _key(c.maker).split()[0])]
    return same[0] if same else None


def _lens(camera, name):
    """The lens of a name, or the only one of a camera that has it built in."""
    database = _database()
    if not name:
        built_in = camera.mount[:1].islower()
        found = [lens for lens in database.lenses if camera.mount in lens.mounts]
        return found[0] if built_in and len(found) == 1 else None
    found = database.find_lenses(camera, None, name)
    found = [lens for lens in found if lens.crop_factor <= LARGER * camera.crop_factor]
    named = [lens for lens in found if _key(lens.model).endswith(_key(name))]
    sure = [lens for lens in found if lens.score >= SURE]
    return next(iter(sorted(named, key=lambda lens: len(lens.model)) or sure), None)


def _optics(lens, crop, capture, width, height):
    """Numbers of a lens for one frame. A length of 1 is half a diagonal of the pictures that it was
    measured on for falloff, half their short side for the rest, from middle to middle of pixels."""
    focal, aperture = capture.focal_length, capture.aperture
    diagonal = np.hypot(width - 1, height - 1) / 2 / max(width, height) * crop / lens.crop_factor
    falloff = lens.interpolate_vignetting(focal, aperture, FAR) if aperture else None
    if falloff is not None:
        falloff = Falloff((0.5, 0.5), float(diagonal), fall=_plain(falloff.terms[:3]))
    distortion, unit = _distortion(lens, crop, capture, width, height, diagonal)
    colour = lens.interpolate_tca(focal)
    terms = _plain(colour.terms) if colour is not None and unit else None
    red, blue = (terms and Warp((0.5, 0.5), unit, _scale(terms[k:])) for k in (0, 1))
    return Optics(distortion, red, blue, falloff)


def _plain(terms):
    return tuple(float(each) for each in terms)


def _scale(terms):
    """Of a colour: v + c r + b r^2, with the terms of red and blue in turn (vr vb cr cb br bb)."""
    return terms[0], *terms[2::2]


def _distortion(lens, crop, capture, width, height, diagonal):
    """The warp of a lens, and the unit of its radius: the one with which our formula moves places
    as the database does."""
    focal = capture.focal_length
    found = lens.interpolate_distortion(focal)
    units = [float(diagonal / np.hypot(aspect, 1)) for aspect in ASPECTS]
    if found is None:
        return None, units[0]
    radial = _radial(found.model.name, _plain(found.terms))
    if radial is None:
        return None, None
    warps = [Warp((0.5, 0.5), unit, radial) for unit in units]
    apart = [_apart(warp, lens, crop, focal, width, height) for warp in warps]
    best = int(np.argmin(apart))
    return (warps[best], units[best]) if apart[best] < ALIKE else (None, None)


def _radial(model, k):
    """Coefficients of powers of the radius; by the database's own description of its models."""
    match model:
        case "POLY3":
            return 1 - k[0], 0.0, k[0]
        case "POLY5":
            return 1.0, 0.0, k[0], 0.0, k[1]
        case "PTLENS":
            return 1 - k[0] - k[1] - k[2], k[2], k[1], k[0]
    return None


def _apart(warp, lens, crop, focal, width, height):
    """Largest distance to what the database makes of places, as a share of the short side."""
    lensfunpy = _lensfunpy()
    modifier = lensfunpy.Modifier(lens, crop, width, height)
    flags = lensfunpy.ModifyFlags.DISTORTION
    modifier.initialize(focal, 1.0, FAR, scale=1.0, pixel_format=np.float32, flags=flags)
    worst = 0.0
    for share in (0.02, 0.25, 0.4):
        place = round(share * width), round(share * height)
        theirs = modifier.apply_geometry_distortion(*place, 1, 1)
        ours = warp.to_frame(place[0] + 0.5, place[1] + 0.5, width, height)
        worst = max(worst, np.abs(np.ravel(theirs) + 0.5 - ours).max()) if theirs is not None else 9
    return worst / min(width, height)
