"""The page about a calibrated camera, and the two files that belong together."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from calibrate.photographs import MADE_BY, Photograph, chart_in
from grading.calibrate.chart import reference
from grading.calibrate.light import calibrate
from grading.errors import OutputError
from grading.pages.calibration import calibration_page, write_camera
from grading.recipe.cameras import read_camera
from pages.html_checks import Parts, assert_readable, assert_whole_in_itself


def published():
    """sRGB of the chart as colour-science makes it of its own data, clipped."""
    import colour

    name = next(name for name in colour.CCS_COLOURCHECKERS if "24 - After" in name)
    chart = colour.CCS_COLOURCHECKERS[name]
    xyz = colour.xyY_to_XYZ(list(chart.data.values()))
    srgb = colour.XYZ_to_sRGB(xyz, chart.illuminant, "CAT16")
    codes = np.round(255 * np.clip(srgb, 0, 1)).astype(int)
    return ["#" + bytes(code.tolist()).hex() for code in codes]


def apart(first, second):
    """Largest difference of two colours in CSS, in codes."""
    pair = (bytes.fromhex(each.rpartition("#")[2]) for each in (first, second))
    return max(abs(a - b) for a, b in zip(*pair, strict=True))


@pytest.fixture(scope="module")
def measured():
    frame = chart_in(Photograph(size=(240, 360)), 0.1, samples=2)
    capture = replace(MADE_BY, model="<b>One</b>")
    facts = replace(frame.facts, path=Path("chart <1>.dng"), capture=capture, sha256="ab")
    return calibrate(replace(frame, facts=facts), reference())


@pytest.fixture(scope="module")
def html(measured):
    return calibration_page([measured, measured], reference(), "since-2014", "camera.yaml")


def test_it_is_whole_in_itself(html):
    assert_whole_in_itself(html)


def test_each_patch_is_shown_as_published_before_and_after(html, measured):
    parts = Parts(html.decode())
    shown = [value for tag, name, value in parts.attributes if (tag, name) == ("span", "style")]
    colours = [value for value in shown if value.startswith("background: #")]
    assert len(colours) == 2 * 24 * (3 + 1)
    assert colours[0:72:3] == colours[72:96] == [f"background: {css}" for css in published()]
    after = colours[2:72:3]
    assert max(map(apart, after, colours[0:72:3])) <= 1 < max(map(apart, colours[1:72:3], after))
    assert parts.tags.count("li") == 48


def test_errors_and_names_are_in_words(html, measured):
    text = " ".join(Parts(html.decode()).text.split())
    assert "Invented <b>One</b> calibrated on a chart of 24 patches" in text
    assert f"chart <1>.dng: {measured.kelvin:.0f} K" in text
    before, after = measured.before.errors, measured.after.errors
    assert f"on average {before.mean():.2f} before, {after.mean():.2f} after" in text
    assert f"dark skin{before[0]:.2f}{after[0]:.2f}" in text  # cells of a row


def test_the_page_lies_beside_the_file(tmp_path, measured):
    path = tmp_path / "new" / "studio.yaml"
    page = write_camera(path, [measured], reference(), "since-2014")
    assert page == tmp_path / "new" / "studio.html"
    assert b"Camera file studio.yaml" in page.read_bytes()
    assert read_camera(path).model == "<b>One</b>"


@pytest.mark.parametrize("name", ["studio.yaml", "studio.html"])
def test_neither_is_replaced_unless_it_may_be(tmp_path, measured, name):
    (tmp_path / name).write_text("mine")
    path = tmp_path / "studio.yaml"
    with pytest.raises(OutputError, match="exists"):
        write_camera(path, [measured], reference(), "since-2014")
    assert [each.name for each in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text() == "mine"
    write_camera(path, [measured], reference(), "since-2014", overwrite=True)
    assert read_camera(path).make == "Invented"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 1400])
def test_it_is_readable_and_fits(browser, tmp_path, html, width, scheme):
    path = tmp_path / "camera.html"
    path.write_bytes(html)
    browser.open(path, width=width, scheme=scheme)
    assert_readable(browser)
    assert browser.run("document.documentElement.scrollWidth") <= width
    assert browser.requests() == [] and browser.problems() == []


def test_patches_stand_as_on_the_chart(browser, tmp_path, html):
    path = tmp_path / "camera.html"
    path.write_bytes(html)
    browser.open(path, width=1400)
    boxes = "[...document.querySelectorAll('.patches li')].map(e => e.getBoundingClientRect())"
    sizes = browser.run(f"{boxes}.slice(0, 24).map(r => [r.x, r.y, r.height])")
    x, y, height = np.reshape(sizes, (4, 6, 3)).transpose(2, 0, 1)
    assert (np.ptp(x, axis=0) < 1).all() and (np.ptp(y, axis=1) < 1).all()
    assert (np.diff(x, axis=1) > 0).all() and (np.diff(y, axis=0) > 0).all()
    assert np.ptp(height) < 1 and height.min() > 50
