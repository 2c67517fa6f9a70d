"""Figures of a rendering and of a place in it, as the page says them."""

import math
from collections.abc import Sequence
from typing import Any

from grading.inspect.codes import clipped, histogram
from grading.pages import pictures, words
from grading.pages.follow.followed import Shown
from grading.pages.follow.reading import Reading
from grading.pages.follow.session import Rendering
from grading.terminal import visible


def of_rendering(rendering: Rendering) -> dict[str, Any]:
    """What the page shows beside a picture.

    Parameters
    ----------
    rendering : grading.pages.follow.session.Rendering

    Returns
    -------
    dict
        Text, except the ``bars`` of each channel's histogram (of every fourth pixel): heights in
        0..1, where the ends may exceed 1.
    """
    picture = rendering.picture
    height, width = picture.array.shape[:2]
    shares = histogram(picture.array[::2, ::2])
    top = shares[:, 1:-1].max() or 1
    clipping = picture.clipping
    return {
        "width": width,
        "height": height,
        "light": words.illuminant(picture.resolved),
        "acting": [visible(name) for name in rendering.acting],
        "masks": [visible(name) for name in picture.resolved.local],
        "full": rendering.full_size,
        "outside": words.percent(clipping["outside"]),
        "channels": [
            {
                "black": words.percent(clipping["black"][name]),
                "white": words.percent(clipping["white"][name]),
                "bars": [round(share / top, 3) for share in row],
            }
            for name, row in zip(clipping["black"], shares.tolist(), strict=True)
        ],
        "warnings": [visible(warning) for warning in rendering.warnings],
    }


def of_shown(shown: Shown) -> dict[str, Any]:
    """What the page can step through: frames with their notes, looks, the course of the evening.

    Parameters
    ----------
    shown : grading.pages.follow.followed.Shown

    Returns
    -------
    dict
    """
    notes = shown.notes or ([],) * len(shown.originals)
    return {
        "frames": [visible(path.name) for path in shown.originals],
        "looks": [visible(look) for look in shown.looks],
        "notes": [[visible(text) for text in each] for each in notes],
        "course": [each | {"name": visible(each["name"])} for each in shown.course],
    }


def marks(rendering: Rendering) -> str:
    """Stripes over what is clipped: the address of a picture (``data:``)."""
    return pictures.clipping_marks(clipped(rendering.picture.array))


def of_place(reading: Reading, point: Sequence[float]) -> dict[str, Any]:
    """What the page says of a place.

    Parameters
    ----------
    reading : grading.pages.follow.reading.Reading
    point : sequence of two float

    Returns
    -------
    dict of str
        ``copy`` holds lines that can be pasted into a recipe.
    """
    place = f"[{point[0]:.4f}, {point[1]:.4f}]"
    copy, light = {"place": place}, reading.no_illuminant
    if reading.illuminant:
        kelvin, duv = reading.illuminant
        light = f"{kelvin:.0f} K, Duv {duv:+.4f}"
        copy["neutral"] = f"white_balance: {{neutral: {place}}}"
        copy["light"] = f"white_balance: {{kelvin: {kelvin:.0f}, duv: {duv:.4f}}}"
    return {
        "scene": _stops(reading.scene),
        "picture": _stops(reading.picture),
        "hue": f"{reading.family}, {reading.hue:.0f}°" if reading.family else "grey",
        "lightness": f"{reading.lightness:.3f}",
        "chroma": f"{reading.chroma:.3f}",
        "light": light,
        "copy": copy,
    }


def of_influences(found: Sequence[tuple[str, float]]) -> list[dict[str, str]]:
    """What acts at a place, the strongest first: the key and CIEDE2000."""
    return [{"key": visible(name), "change": f"{change:.1f}"} for name, change in found]


def _stops(value):
    return "black" if math.isinf(value) else f"{words.signed(value, 2)} stops"
