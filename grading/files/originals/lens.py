"""What a DNG states of its lens, as numbers for the upright frame."""

import mmap
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np

from grading.develop.counts import ORIENTATIONS, seen
from grading.errors import GradingError
from grading.files.metadata.dngtags import pictures
from grading.files.metadata.opcodes import (
    FixVignetteRadial,
    GainMap,
    Unknown,
    WarpRectilinear,
    read_opcodes,
)
from grading.files.metadata.tifftags import read_pictures
from grading.lens.optics import (
    MAP_SIDE,
    Falloff,
    Optics,
    Warp,
    before_warp,
    farthest,
    is_sound,
    lateral,
)
from grading.pixels import upright, upright_place
from grading.regular_file import open_regular

_LISTS = (51008, 51009, 51022)
"""Of counts, of linear counts, and of what is made of these: OpcodeList1 to OpcodeList3."""


class Area(NamedTuple):
    """The active area, to which opcodes refer, and what of it is seen, in pixels as stored.

    ``sites`` are the channels, 0 to 2, of a mosaic's first 2 x 2 sites; None for another layout.
    """

    height: int
    width: int
    top: int
    left: int
    rows: int
    columns: int
    orientation: int
    sites: tuple[int, ...] | None

    @property
    def size(self):
        """Width and height of the upright frame."""
        sides = self.columns, self.rows
        return sides[::-1] if self.orientation >= 5 else sides

    def upright(self, x, y):
        """Fractions of the upright frame at fractions of the active area."""
        x = (x * self.width - self.left) / self.columns
        y = (y * self.height - self.top) / self.rows
        return upright_place(self.orientation, x, y)

    def upright_way(self, x, y):
        """A direction in the upright frame."""
        start, end = (upright_place(self.orientation, *place) for place in ((0, 0), (x, y)))
        return end[0] - start[0], end[1] - start[1]

    def unit(self, centre):
        """Length that opcodes take as 1, from a centre to the farthest corner, relative to the
        frame's long edge."""
        share = farthest(centre, self.width, self.height)
        return share * max(self.width, self.height) / max(self.rows, self.columns)


def may_state_lens(path: Path) -> bool:
    """Whether a file has lists of opcodes, read without decoding it; False where it cannot be read.

    Parameters
    ----------
    path : Path
    """
    try:
        with (
            open_regular(path) as file,
            mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) as data,
        ):
            return any(code in directory for directory in read_pictures(data) for code in _LISTS)
    except (OSError, ValueError, GradingError):  # a ValueError: the file is empty
        return False


def stated_optics(directories, raw):
    """What the opcode lists of a DNG say of its lens.

    Parameters
    ----------
    directories : list of dict
        From `grading.files.metadata.tifftags.read_pictures`.
    raw : rawpy.RawPy
        The same file, unpacked.

    Returns
    -------
    Optics or None
    list of str
        Warnings of what is left out.
    """
    lists, warnings = _lists(directories)
    opcodes = [opcode for each in lists for opcode in each]
    warnings += [_not_known(each) for each in opcodes if isinstance(each, Unknown)]
    if not any(isinstance(each, WarpRectilinear | FixVignetteRadial | GainMap) for each in opcodes):
        return None, list(filter(None, warnings))
    area = _area(raw)
    gains, more = _gains(lists, area)
    found, too_much = _radial(opcodes, area)
    optics = replace(found, gains=gains).sound(*area.size)
    if too_much or (optics.gains is None) != (gains is None):
        more.append("a correction in the file is more than a lens can need; it is left out")
    return None if optics.is_empty else optics, [*filter(None, warnings), *more]


def _lists(directories):
    lists, warnings = [], []
    found = [d for d in pictures(directories) if any(code in d for code in _LISTS)]
    for code in _LISTS:
        data = found[0][code].values if found and code in found[0] else b""
        try:
            lists.append(read_opcodes(data) if isinstance(data, bytes) and data else [])
        except ValueError as error:
            lists.append([])
            warnings.append(f"corrections stated in the file cannot be read ({error})")
    return lists, warnings


def _not_known(opcode):
    if opcode.optional:
        return None
    return (
        f"the file asks for a correction that is not carried out here, {opcode.name}, and does not "
        "allow to leave it out: the picture may be uneven or bent"
    )


def _area(raw):
    sizes = raw.sizes
    visible, (top, left), _ = seen(raw.raw_image_visible, sizes)
    pattern, sites = raw.raw_pattern, None
    if raw.raw_image_visible.ndim == 2 and pattern is not None and pattern.shape == (2, 2):
        colours = [
            raw.color_desc[raw.raw_color(sizes.top_margin + y, sizes.left_margin + x)]
            for y in (0, 1)
            for x in (0, 1)
        ]
        sites = tuple(b"RGB".find(colour) for colour in colours)
    rows, columns = visible.shape[:2]
    return Area(
        sizes.height, sizes.width, top, left, rows, columns, ORIENTATIONS[sizes.flip], sites
    )


def _radial(opcodes, area):
    """Warps and falloff, and whether some were left out as more than a lens can need.

    What follows a warp is stated for the corrected frame.
    """
    warps, falloff, too_much = None, None, False
    for opcode in opcodes:
        if isinstance(opcode, WarpRectilinear) and warps is None:
            warps = _warps(opcode, area)
            if not all(is_sound(warp, *area.size) for warp in warps):
                warps, too_much = None, True
        elif isinstance(opcode, FixVignetteRadial) and falloff is None:
            falloff = Falloff(area.upright(*opcode.centre), area.unit(opcode.centre), opcode.gain)
            if not is_sound(falloff, *area.size):
                falloff, too_much = None, True
            elif warps:
                falloff = before_warp(falloff, warps[1])
    if not warps:
        return Optics(falloff=falloff), too_much
    red, green, blue = warps
    sides = (None, None) if red == green == blue else (lateral(red, green), lateral(blue, green))
    moves = green.shared(0) != green
    return Optics(green if moves else None, *sides, falloff), too_much


def _warps(opcode, area):
    """Of red, green and blue; kr0 to kr3 go with even powers of the radius."""
    centre, unit = area.upright(*opcode.centre), area.unit(opcode.centre)
    warps = []
    for kr0, kr1, kr2, kr3, kt0, kt1 in opcode.planes.tolist():
        radial = (kr0, 0.0, kr1, 0.0, kr2, 0.0, kr3)
        warps.append(Warp(centre, unit, radial, area.upright_way(kt1, kt0)))
    return warps if len(warps) == 3 else 3 * warps


def _gains(lists, area):
    """All maps of gains as one for red, green and blue; of two greens, their mean."""
    shape = (MAP_SIDE, MAP_SIDE)
    sites, channels, warnings = np.ones((4, *shape)), np.ones((3, *shape)), []
    maps = _maps(lists)
    for each, before in maps:
        if not _covers(each, area):
            warnings.append("a map of gains in the file is for a part of the frame; it is left out")
        elif before and area.sites is not None:
            for site in _sites(each):
                sites[site] *= _resampled(each, 0, area)
        else:
            for k, plane in enumerate(each.planes):
                if plane < 3:
                    channels[plane] *= _resampled(each, k, area)
    if len(maps) == len(warnings):
        return None, warnings
    if area.sites is not None:
        for channel in range(3):
            alike = [site for site, colour in enumerate(area.sites) if colour == channel]
            channels[channel] *= sites[alike].mean(axis=0) if alike else 1
    return channels.astype(np.float32), warnings


def _maps(lists):
    """Each map with whether it acts before colours are interpolated."""
    return [(o, i < 2) for i, each in enumerate(lists) for o in each if isinstance(o, GainMap)]


def _covers(each, area):
    top, left, bottom, right = each.area
    seen_from, seen_to = (area.top, area.left), (area.top + area.rows, area.left + area.columns)
    down, across = each.pitch
    return (
        max(down, across) <= 2
        and top < seen_from[0] + down
        and left < seen_from[1] + across
        and bottom > seen_to[0] - down
        and right > seen_to[1] - across
    )


def _sites(each):
    """Which of the 2 x 2 sites of a mosaic a map is for."""
    (top, left, *_), (down, across) = each.area, each.pitch
    return [
        2 * y + x for y in (0, 1) for x in (0, 1) if not ((y - top) % down or (x - left) % across)
    ]


def _resampled(each, plane, area):
    """One plane of a map at the nodes of ours, linearly, upright."""
    gains = each.gains[..., min(plane, each.gains.shape[2] - 1)]
    nodes = np.linspace(0, 1, MAP_SIDE)
    rows = (area.top + nodes * area.rows) / area.height
    columns = (area.left + nodes * area.columns) / area.width
    for axis, places in enumerate((rows, columns)):
        step, origin, count = each.spacing[axis], each.origin[axis], gains.shape[axis]
        place = np.clip((places - origin) / step if count > 1 else 0 * places, 0, count - 1)
        low = np.minimum(place.astype(int), max(count - 2, 0))
        share = np.expand_dims(place - low, 1 - axis)
        above = np.minimum(low + 1, count - 1)
        gains = (1 - share) * gains.take(low, axis) + share * gains.take(above, axis)
    return upright(gains, area.orientation)
