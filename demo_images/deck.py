"""The boat that carries the camera: its bow, planked deck and rail in the lower right corner.

Positions are metres from the camera: to the right, up, ahead.
"""

import numpy as np
from PIL import Image, ImageDraw

from paint import mix, noise_tile, sample, segment, smoothstep
from view import HORIZON, OVERSAMPLING

_BOW = np.array((2.95, -1.80, 7.6))
_DECK, _BULWARK, _RAIL = -2.08, 0.26, 0.66
_STATIONS = np.linspace(0, 1, 49)


def paint_deck(view, evening):
    """The boat over a transparent ground.

    Returns
    -------
    ndarray, shape (height, width, 4), float32
        Camera RGB, premultiplied by the cover in the fourth plane.
    """
    layer = np.zeros((OVERSAMPLING * view.height, OVERSAMPLING * view.width, 4), np.float32)
    port, starboard = _edge(-1.0), _edge(1.0)
    _planks(layer, view, evening, np.concatenate([port, starboard[::-1]]))
    for side, edge in ((1.0, starboard), (-1.0, port)):
        _bulwark(layer, view, evening, edge, side)
    _coil(layer, view, evening)
    _post(layer, view, evening)
    steel = dict(albedo=(0.60, 0.61, 0.62), shine=0.9)
    for edge in (starboard, port):
        cap = edge + (0, _BULWARK, 0)
        top = edge + (0, _BULWARK + _RAIL, 0) + (edge - edge.mean(axis=0)) * (0.02, 0, 0.02)
        for station in (4, 16, 28, 38):
            _tube(layer, view, evening, np.stack([cap[station], top[station]]), 0.016, **steel)
        _tube(layer, view, evening, (cap + top) / 2, 0.006, albedo=(0.35, 0.35, 0.35), shine=0.3)
        _tube(layer, view, evening, cap, 0.055, albedo=(0.21, 0.085, 0.035), shine=0.35)
        _tube(layer, view, evening, top, 0.02, **steel)
    _side_light(layer, view, evening, port[4] + (0, _BULWARK + _RAIL - 0.12, 0))
    height, width = view.height, view.width
    return layer.reshape(height, OVERSAMPLING, width, OVERSAMPLING, 4).mean(axis=(1, 3))


def _edge(side):
    """The deck's edge from the stem aft, on one side; shape (stations, 3)."""
    aft = 7.0 * _STATIONS**1.3
    beam = 1.75 * (1 - np.exp(-aft / 1.5))
    x = _BOW[0] + side * beam - 0.17 * aft
    y = _BOW[1] - _BULWARK + (_DECK + 0.02 - _BOW[1] + _BULWARK) * smoothstep(0, 5, aft)
    return np.stack([x, y, _BOW[2] - aft], axis=1)


def _project(view, points):
    """Canvas columns and rows of points, and canvas pixels a metre at each."""
    x, y, z = np.moveaxis(np.asarray(points, float), -1, 0)
    z = np.maximum(z, 0.35)
    column = OVERSAMPLING * view.width / 2 + view.focal * x / z
    row = OVERSAMPLING * view.height * HORIZON - view.focal * y / z
    return column, row, view.focal / z


def _covered(layer, view, points):
    """Cover of a filled polygon."""
    height, width = layer.shape[:2]
    mask = Image.new("L", (width, height))
    column, row, _ = _project(view, points)
    ImageDraw.Draw(mask).polygon(list(zip(column, row, strict=True)), fill=1)
    return np.asarray(mask, bool)


def _blend(layer, window, radiance, cover):
    target, cover = layer[window], np.asarray(cover, np.float32)[..., None]
    target[..., :3] = target[..., :3] * (1 - cover) + radiance * cover
    target[..., 3:] = target[..., 3:] * (1 - cover) + cover


def _lights(evening, facing_up, facing_glow):
    """Irradiance on a part of the boat; behind the camera the wheelhouse lamp comes on."""
    lamp = 3.4 * smoothstep(17, 19, evening.minutes)
    return dict(
        ambient=evening.ambient * (0.2 + 0.6 * facing_up),
        glow=evening.ambient * 0.5 * facing_glow,
        sun=evening.sun * 0.7 * facing_glow,
        tungsten=lamp * (0.3 + 0.7 * facing_up),
    )


def _planks(layer, view, evening, outline):
    """Sun-bleached planks with dark seams, a margin board along the edge, a hatch."""
    inside = _covered(layer, view, outline)
    rows, columns = np.nonzero(inside)
    if not len(rows):
        return
    q = (columns + 0.5 - OVERSAMPLING * view.width / 2) / view.focal
    p = (OVERSAMPLING * view.height * HORIZON - rows - 0.5) / view.focal
    z = (_DECK + 0.1) / np.minimum(p, -0.02)
    x = q * z
    athwart, along = x + 0.17 * (_BOW[2] - z) - _BOW[0], z
    plank = np.floor(athwart / 0.095)
    seam = smoothstep(0.011, 0.004, np.abs((athwart / 0.095) % 1 - 0.5) * -0.095 + 0.0475)
    butt = smoothstep(0.012, 0.005, np.abs((along + plank * 0.77) % 2.1))
    grain = sample(noise_tile(61, 1.2, 0.08), along * 40 + plank * 91, athwart * 900)
    tone = sample(noise_tile(62, 0.3), plank * 37, 5.0 * np.floor((along + plank * 0.77) / 2.1))
    wet = smoothstep(0.1, 0.9, sample(noise_tile(63, 1.7), x * 70, z * 70))
    wood = np.array((0.25, 0.185, 0.125)) * (1 + 0.1 * grain + 0.13 * tone - 0.35 * wet)[..., None]
    wood = mix(wood, np.array((0.02, 0.02, 0.02)), np.maximum(seam, butt) * 0.85)
    near_edge = smoothstep(1.2, 2.6, np.abs(athwart))
    radiance = evening.shade(np.clip(wood, 0.005, 0.9),
                             **_lights(evening, 0.8 - 0.35 * near_edge, 0.16))
    sheen = evening.ambient * (0.02 + 0.10 * wet) * np.exp(-np.abs(p) * 1.5)
    radiance = radiance + sheen[..., None] * mix(evening.white("ambient"), evening.white("glow"),
                                                 smoothstep(0.1, 0.5, q) * 0.6)
    layer[rows, columns, :3] = radiance
    layer[rows, columns, 3] = 1


def _bulwark(layer, view, evening, edge, side):
    """The low wall round the deck: painted inside."""
    outline = np.concatenate([edge, edge[::-1] + (0, _BULWARK, 0)])
    inside = _covered(layer, view, outline)
    rows, columns = np.nonzero(inside)
    if not len(rows):
        return
    q = (columns + 0.5) / view.focal
    grime = sample(noise_tile(64, 1.4), columns * 0.35, rows * 0.35)
    albedo = np.array((0.60, 0.60, 0.56)) * (1 + 0.05 * grime)[..., None]
    facing_glow = 0.05 if side > 0 else 0.55
    shading = 0.32 + 0.1 * np.sin(q * 9)
    lights = _lights(evening, shading, facing_glow)
    layer[rows, columns, :3] = evening.shade(albedo, **lights)
    layer[rows, columns, 3] = 1


def _tube(layer, view, evening, points, radius, albedo, shine):
    """A round bar or rope along a line of points, shaded across its width."""
    window, across, up, right, cover = _round(layer, view, points, radius)
    if not cover.size:
        return
    height = np.clip(0.5 + 0.5 * up * across, 0, 1)
    sunward = np.clip(0.2 + 0.8 * right * across, 0, 1)
    lights = _lights(evening, height, sunward)
    radiance = evening.shade(np.broadcast_to(albedo, (*cover.shape, 3)), **lights)
    gleam = shine * np.exp(-(((across * (0.8 * up + 0.35 * right) - 0.5) / 0.2) ** 2))
    radiance = radiance + (gleam * evening.ambient * 0.8)[..., None] * mix(
        evening.white("ambient"), evening.white("glow"), sunward)
    _blend(layer, window, radiance, cover)


def _round(layer, view, points, radius):
    """Cross-section of a bar at every canvas pixel near it, from the nearest of its segments.

    Returns
    -------
    window : tuple of slice
    across : ndarray
        -1 to 1 over the width of the bar.
    up, right : ndarray
        Components of the direction in which `across` grows.
    cover : ndarray
    """
    column, row, scale = _project(view, points)
    thick = np.maximum(radius * scale, 0.6)
    reach = thick.max() + 2
    window = tuple(
        slice(*np.clip((line.min() - reach, line.max() + reach), 0, limit).astype(int))
        for line, limit in zip((row, column), layer.shape[:2], strict=True)
    )
    y, x = np.mgrid[window] + 0.5
    nearest = np.full(x.shape, np.inf)
    across, up, right, cover = np.zeros((4, *x.shape))
    for i in range(len(column) - 1):
        start, end = (column[i], row[i]), (column[i + 1], row[i + 1])
        near = tuple(
            slice(max(int(min(p, q) - reach) - part.start, 0),
                  max(int(max(p, q) + reach) - part.start, 0))
            for p, q, part in zip(start[::-1], end[::-1], window, strict=True)
        )
        distance, along = segment(x[near], y[near], start, end)
        width = thick[i] * (1 - along) + thick[i + 1] * along
        closer = np.abs(distance) < nearest[near]
        nearest[near][closer] = np.abs(distance)[closer]
        across[near][closer] = np.clip(distance / width, -1, 1)[closer]
        cover[near][closer] = np.clip(width - np.abs(distance) + 0.5, 0, 1)[closer]
        length = max(np.hypot(end[0] - start[0], end[1] - start[1]), 1e-3)
        up[near][closer] = (end[0] - start[0]) / length
        right[near][closer] = (end[1] - start[1]) / length
    return window, across, up, right, cover


def _coil(layer, view, evening):
    """A coiled rope on the deck."""
    turns = np.linspace(0, 2 * np.pi, 40)
    for loop in range(6):
        r = 0.11 + 0.042 * loop
        wobble = 0.012 * np.sin(3 * turns + loop * 1.9)
        ring = np.stack([2.36 + (r + wobble) * np.cos(turns),
                         np.full(40, _DECK + 0.06 + 0.012 * (loop % 2)),
                         5.75 + (r + wobble) * np.sin(turns)], axis=1)
        _tube(layer, view, evening, ring, 0.019, albedo=(0.52, 0.44, 0.30), shine=0.0)


def _post(layer, view, evening):
    """A mooring post with an iron pin near the stem."""
    foot = np.array((2.72, _DECK + 0.04, 6.45))
    post = np.stack([foot, foot + (0, 0.40, 0)])
    _tube(layer, view, evening, post, 0.07, albedo=(0.17, 0.075, 0.035), shine=0.25)
    pin = np.array((foot + (-0.2, 0.27, 0), foot + (0.2, 0.27, 0)))
    _tube(layer, view, evening, pin, 0.022, albedo=(0.10, 0.105, 0.11), shine=0.7)


def _side_light(layer, view, evening, at):
    """The port side light: red, lit from sunset."""
    column, row, scale = _project(view, at)
    on = smoothstep(9, 10, evening.minutes)
    radius = 0.035 * scale
    window = np.s_[max(int(row - radius - 2), 0) : int(row + radius + 3),
                   max(int(column - radius - 2), 0) : int(column + radius + 3)]
    height, width = layer[window].shape[:2]
    y, x = np.mgrid[:height, :width]
    distance = np.hypot(x + window[1].start - column, y + window[0].start - row) / radius
    body = evening.shade((0.25, 0.02, 0.02), ambient=evening.ambient * 0.5)
    body = body + (45 * on * np.exp(-((distance / 0.8) ** 2)))[..., None] * evening.white("red")
    _blend(layer, window, body, distance < 1)
