"""Invented photographs of a chart, as camera light: any pose, light that falls off, noise, blur."""

from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from dng import mosaic_of, write_dng
from frames_in_memory import ArrayPixels, facts
from grading.calibrate.chart import CENTRES, COLUMNS, PATCH_SIDE, ROWS, reference
from grading.calibrate.homography import homography, project
from grading.colour.adaptation import cat16
from grading.colour.camera import xyz_to_camera
from grading.colour.spaces import D65, xy_to_xyz
from grading.colour.white import kelvin_duv_to_xy
from grading.frame import Calibration, Camera, Capture, Frame

MADE_BY = Capture(make="Invented", model="Camera")
BORDER = 0.03
MARGIN = 0.35
"""Of the card about its patches, in steps from one patch to the next."""

_MATRIX = np.array([[0.75, -0.2, -0.07], [-0.42, 1.25, 0.16], [-0.04, 0.17, 0.6]])


@dataclass(frozen=True)
class Pose:
    """How the chart lies in a frame: its middle and width in fractions of the frame's width.

    ``turn`` is degrees clockwise; ``tilt`` degrees by which it leans away about its vertical and
    its horizontal axis, seen from four of its widths.
    """

    middle: tuple[float, float] = (0.5, 0.33)
    width: float = 0.6
    turn: float = 0.0
    tilt: tuple[float, float] = (0.0, 0.0)

    def place(self, width):
        """The perspective from chart coordinates to pixels of a frame of that width."""
        half = np.array([COLUMNS - 1 + PATCH_SIDE, ROWS - 1 + PATCH_SIDE]) / 2
        corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * half
        across, down, turn = np.radians([*self.tilt, self.turn])
        x, y = corners[:, 0] * np.cos(across), corners[:, 1] * np.cos(down)
        depth = corners[:, 0] * np.sin(across) + corners[:, 1] * np.sin(down)
        seen = np.stack([x, y], axis=1) / (1 + depth / (8 * half[0]))[:, None]
        rotation = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        seen = seen @ rotation * self.width / (2 * half[0]) + self.middle
        return homography(corners + CENTRES.mean(axis=0), width * seen)


@dataclass(frozen=True)
class Photograph:
    """A photograph of a chart.

    Attributes
    ----------
    pose : Pose
    size : (int, int)
        Height and width.
    white : float
        What the green of a perfect white reads.
    fall, vignetting : float
        Light from one side of the frame to the other, and from its middle to its corners.
    flare : float
        Share of a perfect white that is added everywhere.
    blur : float
        Deviation in pixels.
    noise : float
        Variance at the white level, of shot noise.
    ground : {"plain", "busy"}
    seed : int
    """

    pose: Pose = field(default_factory=Pose)
    size: tuple[int, int] = (400, 600)
    white: float = 0.7
    fall: float = 0.0
    vignetting: float = 0.0
    flare: float = 0.0
    blur: float = 0.0
    noise: float = 0.0
    ground: str = "plain"
    seed: int = 0

    def of(self, patches, neutral, samples=3):
        """Camera light, shape (3, height, width), of patches (24, 3) as camera RGB, white 1."""
        rng, (height, width) = np.random.default_rng(self.seed), self.size
        light = np.zeros((height, width, 3))
        back = np.linalg.inv(self.pose.place(width))
        ground = self._ground(rng)
        for dy in (np.arange(samples) + 0.5) / samples:
            for dx in (np.arange(samples) + 0.5) / samples:
                y, x = np.mgrid[0:height, 0:width] + np.array([dy, dx])[:, None, None]
                light += _chart_at(project(back, np.stack([x, y], axis=-1)), patches, ground)
        y, x = (np.mgrid[0:height, 0:width] + 0.5) / width
        y, x = y - height / width / 2, x - 0.5
        falling = (1 + self.fall * x) * (1 - self.vignetting * (x * x + y * y) / 0.36)
        light = light / samples**2 * falling[..., None] + self.flare
        light = self.white * _blurred(light, self.blur) * neutral
        light += rng.normal(size=light.shape) * np.sqrt(self.noise * np.maximum(light, 1e-4))
        return np.minimum(light, 1.0).transpose(2, 0, 1)

    def _ground(self, rng):
        """What lies around the card: grey, or rectangles of any colour, some of them on a grid."""
        height, width = self.size
        ground = np.full((height, width, 3), 0.2)
        if self.ground == "plain":
            return ground
        for _ in range(60):
            top, left = rng.integers(0, height), rng.integers(0, width)
            down, across = rng.integers(5, height // 4), rng.integers(5, width // 4)
            ground[top : top + down, left : left + across] = rng.uniform(0.02, 1, 3)
        side = width // 40
        for row in range(5):
            for column in range(7):
                top, left = int((1.3 * row + 1) * side), int((1.3 * column + 1) * side)
                ground[top : top + side, left : left + side] = rng.uniform(0.02, 1, 3)
        return ground * rng.uniform(0.97, 1.03, (height, width, 1))


def _chart_at(points, patches, ground):
    """Colours at places given in chart coordinates."""
    column, row = (np.rint(points[..., axis]).astype(int) for axis in (0, 1))
    inside = (column >= 0) & (column < COLUMNS) & (row >= 0) & (row < ROWS)
    nearest = np.stack([column, row], axis=-1)
    on_patch = inside & (np.abs(points - nearest) < PATCH_SIDE / 2).all(axis=-1)
    low, high = -0.5 - MARGIN, np.array([COLUMNS, ROWS]) - 0.5 + MARGIN
    on_card = ((points > low) & (points < high)).all(axis=-1)
    light = np.where(on_card[..., None], BORDER, ground)
    light[on_patch] = patches[(row * COLUMNS + column)[on_patch]]
    return light


def _blurred(light, deviation):
    """Blurred by a normal curve; the edges repeat."""
    if not deviation:
        return light
    reach = int(3 * deviation + 1)
    curve = np.exp(-((np.arange(-reach, reach + 1) / deviation) ** 2) / 2)
    curve /= curve.sum()
    for axis in (0, 1):
        pad = [(reach, reach) if axis == each else (0, 0) for each in range(3)]
        padded, count = np.pad(light, pad, mode="edge"), light.shape[axis]
        light = sum(
            weight * np.take(padded, range(i, i + count), axis=axis)
            for i, weight in enumerate(curve)
        )
    return light


def camera(kelvin=5000.0, stray=0.0):
    """A camera of one calibration, whose stated matrix is off by so much; and its true one."""
    true = Camera((Calibration(kelvin, _MATRIX, kelvin_duv_to_xy(kelvin)),), np.ones(3))
    wrong = _MATRIX + stray * np.array([[1, -1, 0.2], [-0.5, 1, -0.6], [0.2, -1, 1]])
    stated = replace(true, calibrations=(replace(true.calibrations[0], xyz_to_camera=wrong),))
    return stated, true


def seen_by_camera(colours, kelvin=5000.0):
    """Camera light of surfaces as `camera` sees them, and of a perfect white, green 1.

    The surfaces are given as XYZ relative to D65, and keep their colours by day in any light.
    """
    _, true = camera(kelvin)
    white = xy_to_xyz(kelvin_duv_to_xy(kelvin))
    to_camera = xyz_to_camera(true, D65) @ cat16(xy_to_xyz(D65), white)
    neutral = to_camera @ xy_to_xyz(D65)
    return colours @ to_camera.T / neutral[1], neutral / neutral[1]


def chart_in(photograph, stray=0.0, kelvin=5000.0, capture=MADE_BY, patches=None, samples=3):
    """A frame of the chart as a camera sees it whose matrix makes the published colours exactly.

    The matrix that the frame's facts state is off by so much; ``patches`` are XYZ relative to D65.
    """
    seen, neutral = seen_by_camera(reference().xyz if patches is None else patches, kelvin)
    planes = photograph.of(seen / neutral, neutral, samples)
    stated = replace(camera(kelvin, stray)[0], neutral=neutral / neutral.max())
    height, width = photograph.size
    known = replace(facts(width, height, stated), capture=capture)
    return Frame(known, ArrayPixels(planes))


def write_raw(path, planes, neutral, matrices, **more):
    """A raw file of camera light; matrices by the names of their illuminants, one or two."""
    black, white = 512, 16383
    mosaic = black + mosaic_of(planes.transpose(1, 2, 0)) * (white - black)
    tags = {}
    for i, (illuminant, matrix) in enumerate(matrices.items(), 1):
        tags |= {f"color_matrix{i}": matrix, f"illuminant{i}": illuminant}
    write_dng(
        path, np.clip(np.round(mosaic), 0, white), white=white, black=(black,) * 4,
        as_shot_neutral=neutral / neutral.max(), **tags, **more,
    )  # fmt: skip


def write_chart(path, photograph, kelvin=5000.0, stray=0.1, **more):
    """A raw file of a chart, as `chart_in` shows it; its matrix is stated for D50."""
    seen, neutral = seen_by_camera(reference().xyz, kelvin)
    planes = photograph.of(seen / neutral, neutral, samples=2)
    matrix = camera(kelvin, stray)[0].calibrations[0].xyz_to_camera
    write_raw(path, planes, neutral, {"D50": matrix}, **more)


def real_chart():
    """A real raw file with a chart in it, where it lies beside the repository; else None."""
    name = Path("shared", "raws", "tinydng_colorchart.dng")
    found = (folder / name for folder in Path(__file__).resolve().parents)
    return next((path for path in found if path.exists()), None)
