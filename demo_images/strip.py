"""The picture in the README: the demo set under one look, above as it is, below as one evening.

    python demo_images/strip.py
"""

from pathlib import Path

import numpy as np
from PIL import Image

from grading.engine.execute import render
from grading.engine.output import Output
from grading.evening.level.measure import Measuring
from grading.evening.load import load_shoot
from grading.evening.settle import settle
from grading.files.originals import open_frame

FOLDER = Path(__file__).resolve().parent
LOOK = "harbour-dusk"
SIZE = Output(long_edge=216)
GAP = 4


def main():
    evening = load_shoot(FOLDER / "evening.yaml")
    measuring = Measuring(evening)
    for _ in measuring:
        pass
    levels, columns = measuring.levels(), []
    for frame in evening.rendered:
        opened = open_frame(frame.path)
        recipes = evening.looks[LOOK].checked(), settle(evening, frame, LOOK, levels)
        columns.append([render(opened, recipe, SIZE).array for recipe in recipes])
    rows = [_joined(row, axis=1) for row in zip(*columns, strict=True)]
    Image.fromarray(_joined(rows, axis=0)).save(FOLDER / "readme" / "evening.jpg", quality=90)


def _joined(pictures, axis):
    gap = [(0, GAP if a == axis else 0) for a in (0, 1)] + [(0, 0)]
    padded = [np.pad(picture, gap, constant_values=255) for picture in pictures[:-1]]
    return np.concatenate([*padded, pictures[-1]], axis=axis)


if __name__ == "__main__":
    main()
