"""A small card of raw frames, and shoot files about it."""

from datetime import datetime, timedelta
from textwrap import dedent

import numpy as np
import pytest

from dng import write_dng
from grading.evening.load import load_shoot

START = datetime(2026, 4, 18, 19, 0, 0)
MATRIX = np.array([[0.9, -0.2, -0.05], [-0.4, 1.25, 0.15], [-0.05, 0.2, 0.55]])


@pytest.fixture
def card(tmp_path):
    """Writes frames ``F1.dng`` and so on, six minutes apart from 19:00, and returns the folder."""

    def make(count=4, folder="card", timed=True, suffix=".dng", start=START):
        place = tmp_path / folder
        place.mkdir(parents=True, exist_ok=True)
        for n in range(count):
            mosaic = np.random.default_rng(n).integers(600, 9000, (64, 96)).astype(np.uint16)
            when = start + timedelta(minutes=6 * n)
            exif = {"ExposureTime": 1 / 60, "FNumber": 8, "ISOSpeedRatings": 200, "FocalLength": 35}
            if timed:
                exif["DateTimeOriginal"] = f"{when:%Y:%m:%d %H:%M:%S}"
            write_dng(
                place / f"F{n + 1}{suffix}", mosaic, white=16383, black=(512,) * 4,
                color_matrix1=MATRIX, illuminant1="D65", as_shot_neutral=(0.5, 1, 0.7), exif=exif,
            )  # fmt: skip
        return place

    return make


@pytest.fixture
def shoot(tmp_path):
    """Writes a shoot file of some text, with what every one needs, and loads it."""

    def write(text="", card="card", looks="[evenlight]", deliveries="{web: {folder: web}}"):
        path = tmp_path / "evening.yaml"
        head = f"shoot: 1\noriginals: {card}\nlooks: {looks}\ndeliveries: {deliveries}\n"
        path.write_text(head + dedent(text))
        return load_shoot(path)

    return write
