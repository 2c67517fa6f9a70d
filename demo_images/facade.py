"""Houses: plastered walls with windows, tiled roofs, shops, chimneys."""

from dataclasses import dataclass

import numpy as np

from paint import lay, mix, noise_tile, sample, smoothstep
from sky import haze

STOREY = 3.1
LAMP_LIGHTS = ("tungsten", "warm_led", "tube")
_TRIM = np.array((0.72, 0.70, 0.64))


@dataclass(frozen=True)
class House:
    """One house front; positions in metres along its wall and above the water.

    ``lit`` is the minute at which each window's lamp goes on (rows from the ground up),
    ``level`` its luminance in cd/m2 and ``lamp`` an index of `LAMP_LIGHTS`.
    """

    left: float
    right: float
    ground: float
    storeys: int
    gable: bool
    roof_height: float
    paint: tuple
    tiles: tuple
    shutters: tuple | None
    shop: bool
    seed: int
    lit: np.ndarray
    level: np.ndarray
    lamp: np.ndarray

    @property
    def eave(self):
        """Height of the wall's upper edge."""
        return self.ground + self.storeys * STOREY + 0.5

    @property
    def top(self):
        """Height of the roof's ridge."""
        return self.eave + self.roof_height


def paint_house(canvas, view, evening, wall, house, lamps):
    """Draw one house on the canvas; `lamps` are street lamps near enough to light it."""
    patch = wall.patch(view, house.left, house.right, house.ground - 1.5, house.top + 1.6)
    if patch is None:
        return
    rows, columns, u, v, depth = patch
    local = u - house.left
    width = house.right - house.left
    shape = _outline(house, local, v, width)
    irradiance = _irradiance(evening, house, wall, u, v, lamps)
    radiance = _wall(evening, house, local, v, width, irradiance)
    radiance = _windows(radiance, evening, house, local, v, width, irradiance)
    roof = _roof(evening, house, local, v, irradiance)
    radiance = np.where((shape == 2)[..., None], roof, radiance)
    radiance = haze(radiance, depth, evening, view.across[None, columns])
    lay(canvas, (rows, columns), radiance, shape > 0)


def _outline(house, local, v, width):
    """0 outside, 1 wall, 2 roof and chimneys."""
    centre = np.abs(local - width / 2)
    slope = house.eave + house.roof_height * (1 - centre / (width / 2 + 0.25))
    wall_top = np.where(house.gable, slope - 0.3, house.eave)
    if house.gable:
        roof = (v <= slope) & (v > slope - 0.3)
    else:
        rise = (v - house.eave) / house.roof_height
        hip = np.minimum(local, width - local) > (0.28 * width * rise if house.seed % 3 else 0)
        roof = (v > house.eave - 0.15) & (v <= house.top) & hip
    stack = width * (0.2 if house.seed % 2 else 0.78)
    chimney = (np.abs(local - stack) < 0.42) & (v > house.eave) & (v < house.top + 0.9)
    pots = (np.abs(np.abs(local - stack) - 0.2) < 0.1) & (v > house.eave) & (v < house.top + 1.4)
    return np.where(v <= wall_top, 1, 0) * ~roof + 2 * (roof | ((chimney | pots) & (v > wall_top)))


def _irradiance(evening, house, wall, u, v, lamps):
    """Sky, glow and sun on an upright wall, and the street lamps' pools of light."""
    under_eave = smoothstep(house.eave + 0.1, house.eave - 1.1, v) * 0.35 + 0.65
    base = 0.75 + 0.25 * smoothstep(house.ground, house.ground + 3, v)
    ambient = evening.ambient * 0.5 * under_eave * base
    glow = evening.ambient * (0.3 - 0.2 * evening.dusk) * (0.7 + 0.3 * smoothstep(2, 12, v))
    gaps = smoothstep(-0.9, 0.5, sample(noise_tile(10, 1.6), u * 5 + 40 * v, v * 3 + wall.z))
    sun = evening.sun * 0.85 * smoothstep(2.5, 6.0, v) * under_eave * gaps
    levels = {"ambient": ambient, "glow": glow, "sun": sun}
    for lamp in lamps:
        reach = (u - lamp.u) ** 2 + (v - lamp.height) ** 2 + lamp.gap**2
        pool = lamp.candela / np.pi * lamp.gap / reach**1.5 * lamp.on(evening.minutes)
        levels[lamp.light] = levels.get(lamp.light, 0) + pool
    return levels


def _wall(evening, house, local, v, width, irradiance):
    """Plaster with stains, streaks and a darker foot; corners in soft shadow."""
    s = house.seed * 37.0
    coarse = sample(noise_tile(11, 1.5), local * 9 + s, v * 9)
    streaks = sample(noise_tile(12, 1.3, 0.15), v * 3 + s, local * 22 + s)
    fine = sample(noise_tile(13, 0.8), local * 31 + s, v * 31)
    stain = 1 + 0.09 * coarse + 0.08 * streaks + 0.05 * fine
    foot = smoothstep(house.ground - 0.4, house.ground + 1.1, v) * 0.35 + 0.65
    corner = smoothstep(0, 0.35, local) * 0.3 + 0.7
    drip = smoothstep(width, width - 0.2, local) * 0.25 + 0.75
    albedo = np.array(house.paint) * (stain * foot * corner * drip)[..., None]
    shadow = smoothstep(house.eave - 0.75, house.eave - 0.25, v) * (not house.gable)
    albedo = albedo * (1 - 0.4 * shadow)[..., None]
    pipe = np.abs(local - width + 0.16) < 0.06
    albedo = np.where(pipe[..., None], np.array((0.2, 0.2, 0.19)), albedo)
    sills = (np.abs((v - house.ground) % STOREY - 0.06) < 0.07) & (v > house.ground + 1)
    plinth = v < house.ground + 0.7
    albedo = np.where(sills[..., None], _TRIM * 0.9 * stain[..., None], albedo)
    albedo = np.where((plinth & np.bool_(not house.shop))[..., None], albedo * 0.6, albedo)
    return evening.shade(np.clip(albedo, 0.01, 0.95), **irradiance)


def _windows(radiance, evening, house, local, v, width, irradiance):
    """Panes, frames, shutters; lamps behind the panes that are lit by now."""
    storeys, across = house.lit.shape
    cell = (width - 0.9) / across
    column = np.clip(((local - 0.45) / cell).astype(int), 0, across - 1)
    storey = np.floor((v - house.ground) / STOREY).astype(int)
    attic = (storey >= house.storeys) & np.bool_(house.gable)
    known = (storey >= 0) & (storey < house.storeys)
    storey = np.clip(storey, 0, storeys - 1)
    a = local - 0.45 - (column + 0.5) * cell
    b = v - house.ground - storey * STOREY - 1.75
    shop = (storey == 0) & np.bool_(house.shop)
    half_w = np.where(shop, cell * 0.40, min(0.52, cell * 0.27))
    half_h = np.where(shop, 1.05, 0.82)
    b = np.where(shop, b + 0.35, b)
    a, b = np.broadcast_arrays(a, b)
    roundel = attic & (np.hypot(local - width / 2, v - house.eave - 1.1) < 0.45)
    pane = (np.abs(a) < half_w) & (np.abs(b) < half_h) & known
    frame = (np.abs(a) < half_w + 0.13) & (np.abs(b) < half_h + 0.13) & known & ~pane
    bars = pane & ((np.abs(a) < 0.035) | (np.abs(b - 0.2) < 0.03)) & ~shop
    if house.shutters:
        wings = (np.abs(np.abs(a) - half_w - 0.36) < 0.23) & (np.abs(b) < half_h) & known & ~shop
        slats = 0.8 + 0.2 * (np.sin(v * 60) > 0)
        wood = evening.shade(np.array(house.shutters) * slats[..., None], **irradiance)
        radiance = np.where(wings[..., None], wood, radiance)
    trim = evening.shade(_TRIM, **irradiance)
    radiance = np.where((frame | roundel)[..., None], trim, radiance)
    glass = _panes(evening, house, storey, np.broadcast_to(column, v.shape), a, b, half_h)
    radiance = np.where((pane | roundel)[..., None], glass, radiance)
    radiance = np.where(bars[..., None], 0.35 * trim + 0.25 * glass, radiance)
    return _awning(radiance, evening, house, local, v, irradiance)


def _panes(evening, house, storey, column, a, b, half_h):
    """What is seen in a window: the sky mirrored in it, or a room."""
    s = house.seed * 53.0
    on = smoothstep(-0.4, 0.4, evening.minutes - house.lit)[storey, column]
    level, lamp = house.level[storey, column], house.lamp[storey, column]
    mirrored = 0.10 + 0.05 * sample(noise_tile(14, 1.6), a * 40 + column * 91 + s, b * 30)
    flash = (np.sin(house.seed * 7.1 + storey * 3.3 + column * 5.7) > 0.8) * 0.8
    flash = flash * smoothstep(-0.9, 0.6, b + a)
    sky = mix(evening.white("ambient"), evening.white("zenith"), 0.4)
    reveal = 0.45 + 0.55 * smoothstep(half_h, half_h - 0.3, b)
    dark = (reveal * evening.ambient * np.clip(mirrored, 0.03, 1))[..., None] * sky
    dark = dark + (evening.sun * flash)[..., None] * evening.white("sun")
    curtain = np.abs(a) > 0.18 + 0.25 * ((column * 3 + storey + house.seed) % 3)
    deep = 0.62 + 0.38 * b / half_h + 0.12 * sample(noise_tile(15, 1.5), a * 55 + s, b * 60)
    room = np.clip(deep, 0.2, 1.4) * np.where(curtain, 0.55, 1.0) * level * on
    lit = sum(
        (room * (lamp == index))[..., None] * evening.white(light)
        for index, light in enumerate(LAMP_LIGHTS)
    )
    return dark + lit


def _awning(radiance, evening, house, local, v, irradiance):
    """A striped cloth over the shop window, lit from beneath."""
    if not house.shop:
        return radiance
    low, high = house.ground + 2.45, house.ground + 3.15
    cloth = (v > low + 0.08 * np.sin(local * 14) ** 2) & (v < high)
    stripes = np.where((np.floor(local / 0.45) % 2 == 0)[..., None], house.tiles, _TRIM)
    albedo = stripes * (0.75 + 0.5 * (v - low))[..., None]
    lit = evening.shade(np.clip(albedo, 0, 1), **irradiance)
    glow = 5.0 * smoothstep(high, low, v) * (evening.minutes > house.lit[0, 0])
    lit = lit + glow[..., None] * albedo * evening.white("tungsten")
    return np.where(cloth[..., None], lit, radiance)


def _roof(evening, house, local, v, irradiance):
    """Courses of tiles; a roof sees more of the sky than a wall does."""
    s = house.seed * 29.0
    course = np.floor((v - house.eave) / 0.24)
    each = sample(noise_tile(16, 0.3), np.floor(local / 0.2 + 0.5 * course) * 7 + s, course * 11)
    patches = sample(noise_tile(17, 1.6), local * 14 + s, v * 20)
    lap = 0.78 + 0.3 * (((v - house.eave) / 0.24) % 1)
    albedo = np.array(house.tiles) * (lap * (1 + 0.13 * each + 0.14 * patches))[..., None]
    levels = irradiance | {"ambient": evening.ambient * 0.72, "sun": evening.sun * 0.5}
    return mix(
        evening.shade(np.clip(albedo, 0.01, 0.95), **levels),
        evening.shade(np.array((0.30, 0.30, 0.29)), **levels),
        smoothstep(house.top - 0.16, house.top - 0.08, v) * (not house.gable) * (v < house.top),
    )
