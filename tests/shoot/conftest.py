"""Small originals to render."""

from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from grading.files import sidecar


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


@pytest.fixture
def earlier():
    """Writes an output with its sidecar, as an earlier run would have, and returns its record."""

    def make(output, content=b"output", replaces=None):
        output.parent.mkdir(parents=True, exist_ok=True)
        output.write_bytes(content)
        record = sidecar.Sidecar(
            sidecar.describe_original(__file__, output.parent),
            sidecar.OutputRecord(
                output.name, len(content), sidecar.sha256_of(output), "jpeg", "srgb", 92, None,
                3, 2, replaces,
            ),
            sidecar.RecipeRecord("dusk", "0" * 64, {"grading": 1}, {}),
            sidecar.EngineRecord("0.1.0", "3.12.0", "Linux x86_64", {"numpy": "2.0"}),
            {},
            {},
        )  # fmt: skip
        sidecar.sidecar_path(output).write_bytes(sidecar.as_bytes(record))
        return record

    return make


@pytest.fixture
def forge():
    """Rewrites a sidecar with other values of one of its parts and a digest that fits them."""

    def rewrite(place, part, **values):
        record = sidecar.read_sidecar(place)
        changed = replace(getattr(record, part), **values)
        place.write_bytes(sidecar.as_bytes(replace(record, **{part: changed})))

    return rewrite
