"""Grain: as much as is asked for, at every tone, as wide as is asked for, at every size."""

import numpy as np
import pytest

from frames_in_memory import frame, recipe
from grading.engine import execute
from grading.engine.descent import taken_through
from grading.engine.execute import render
from grading.engine.output import Output
from grading.engine.plan import make_plan
from grading.engine.preview import preview
from grading.engine.resolve import resolve
from grading.pixels import block_means
from grading.stages.grain import STAGE, Grain

EXAMPLE = {"deviation": 2.0, "width": 2.5}
ALONE = [{"deviation": 2.0}]

GREYS = 0.01, 0.05, 0.2, 0.5, 0.8


def lightness(original, resolved):
    plan = make_plan(resolved, original)
    lab = taken_through(plan, plan.frame)
    return 116 * lab[0].astype(float) - 16


def grain(amount, size, greys=GREYS, rows=256):
    """Lightness of greys side by side, less what it is without."""
    original = frame(np.repeat(np.full((3, rows, len(greys)), greys), 256, axis=2))
    keys = {"grain": {"deviation": amount, "width": size}}
    found = lightness(original, resolve(recipe(**keys), original))
    return np.split(found - lightness(original, resolve(recipe(), original)), len(greys), axis=1)


@pytest.mark.parametrize("amount", [0.5, 2.0])
@pytest.mark.parametrize("size", [1.0, 1.5, 4.0])
def test_every_tone_has_the_deviation_that_is_asked_for(amount, size):
    deviations = np.array([part.std() for part in grain(amount, size)])
    assert deviations == pytest.approx(amount, rel=0.04 if size < 2 else 0.1)
    assert max(abs(part.mean()) for part in grain(amount, 1.0)) < 0.02 * amount


def test_its_codes_have_it_too():
    original = frame(np.full((3, 300, 400), 0.2))
    keys = {"grain": {"deviation": 2.0}}
    codes = render(original, recipe(**keys), Output("tiff")).array[..., 1] / 65535
    light = np.where(codes <= 0.04045, codes / 12.92, ((codes + 0.055) / 1.055) ** 2.4)
    assert (116 * np.cbrt(light) - 16).std() == pytest.approx(2.0, rel=0.03)


@pytest.mark.parametrize("size", [1.5, 3.0, 6.0])
def test_a_grain_is_as_wide_as_is_asked_for(size):
    """A Gaussian's autocorrelation is wider than itself by the root of two."""
    (part,) = grain(1.0, size, (0.2,), 2048)
    power = np.square(np.abs(np.fft.fft2(part)))
    alike = np.fft.ifft2(power).real
    for row in alike[0, :16], alike[:16, 0]:
        far = np.interp(0.5, row[::-1] / row[0], np.arange(16)[::-1])
        assert 2 * far / np.sqrt(2) == pytest.approx(size, rel=0.12)


def test_the_spectrum_has_no_pattern():
    """White up to the width of the grains: no frequency stands out of its neighbours."""
    (part,) = grain(1.0, 1.0, (0.2,), 256)
    power = np.square(np.abs(np.fft.rfft2(part)))[1:, 1:]
    smooth = np.exp(-0.5 * np.add.outer(*[np.square(np.fft.fftfreq(256)[1:])] * 2))[:, :128]
    assert (power / smooth / (power / smooth).mean()).max() < 20


@pytest.mark.parametrize("size", [1.5, 6.0])
def test_a_preview_has_what_is_left_of_the_grain_at_its_size(size):
    original = frame(np.full((3, 1024, 1024), 0.2))
    resolved = resolve(recipe(grain={"deviation": 3.0, "width": size}), original)
    full = block_means(lightness(original, resolved)[None], 4)[0]
    small = lightness(preview(original, 256), resolved)
    assert small.std() == pytest.approx(full.std(), rel=0.08)


def test_tiles_do_not_show(monkeypatch):
    original, look = frame(np.full((3, 90, 130), 0.2)), recipe(grain=EXAMPLE)
    whole = render(original, look, Output("tiff"), workers=1)
    monkeypatch.setattr(execute, "TILE", (7, 33))
    tiled = render(original, look, Output("tiff"), workers=2)
    np.testing.assert_array_equal(tiled.array, whole.array)


def test_nothing_stated_is_no_step():
    assert STAGE.prepare(Grain(width=3.0), None) is None
