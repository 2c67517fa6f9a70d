"""Small originals to render."""

import numpy as np
import pytest
from PIL import Image


@pytest.fixture
def make_original():
    """Writes a small picture and returns its path."""

    def make(path, width=96, height=64, seed=0):
        path.parent.mkdir(parents=True, exist_ok=True)
        noise = np.random.default_rng(seed).integers(0, 40, (height, width, 3))
        ramp = np.linspace(0, 215, width)[None, :, None]
        Image.fromarray((ramp + noise).astype(np.uint8)).save(path)
        return path

    return make


@pytest.fixture
def recipe_file(tmp_path):
    """A recipe that changes something in every kind of stage."""
    path = tmp_path / "look.yaml"
    path.write_text(
        "grading: 1\ntitle: Look\nexposure: {stops: 0.3}\nlift: {shadows: 0.5}\n"
        "hues: {all: {centre: all, saturation: 0.2}}\n"
        "local: {top: {where: {gradient: {full: [0, 0], none: [0, 1]}}, exposure: {stops: -1}}}\n"
    )
    return path
