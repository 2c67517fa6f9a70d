"""What is drawn on a picture of the follow page, compared, and told about a place."""

import base64
import io
import json

import numpy as np
import pytest
from PIL import Image

from grading.colour.hue_words import hue_words
from grading.engine.execute import render
from grading.files.originals import open_frame
from grading.pages.follow.drawn import TOOLS_BY_NAME, hue_window, outline
from grading.recipe.load import load_recipe
from grading.yaml_text import load_yaml
from pages.follow_setup import followed, grey_after, save, until
from pages.html_checks import assert_readable
from pages.test_follow_page import CODES, box, shown, text
from pages.test_follow_server import get, version

LOOK = """\
exposure: {stops: 0.5}
lift: {shadows: 1}
local: {left: {where: {gradient: {full: [0.2, 0.5], none: [0.3, 0.5]}}, exposure: {stops: 0.5}}}
"""


@pytest.fixture
def server(tmp_path):
    with followed(tmp_path, LOOK, frames=5) as server:
        yield server


@pytest.fixture
def page(server, browser):
    browser.open(server.url, 1400, 1000)
    shown(browser, 1)
    yield browser
    assert browser.problems() == []
    browser.open("about:blank")


def choose(browser, name, value):
    browser.run(f"""(() => {{
      const select = document.querySelector('#{name}');
      select.value = '{value}';
      select.dispatchEvent(new Event('change'));
    }})()""")


def drag(browser, *places):
    left, top, width, height = box(browser)
    at = [(left + x * width, top + y * height) for x, y in places]
    browser.mouse("mouseMoved", *at[0])
    browser.mouse("mousePressed", *at[0])
    for place in at[1:]:
        browser.mouse("mouseMoved", *place)
    browser.mouse("mouseReleased", *at[-1])


def drawn(browser):
    browser.wait_for("document.querySelector('#drawn-text').innerText !== ''")
    return text(browser, "#drawn-text")


def loaded(lines, tmp_path):
    """A recipe into which lines are pasted, below an adjustment where they say where."""
    if lines.startswith("where:"):
        lines = f"local:\n  here:\n    {lines}\n    exposure: {{stops: 1}}"
    save(tmp_path / "pasted.yaml", lines + "\n")
    return load_recipe(tmp_path / "pasted.yaml")


def test_a_drag_gives_a_gradient(page, tmp_path):
    choose(page, "tool", "gradient")
    drag(page, (0.5, 0.2), (0.5, 0.4), (0.5, 0.6))
    where = loaded(drawn(page), tmp_path).local["here"].where
    np.testing.assert_allclose(where.gradient.full, [0.5, 0.2], atol=0.004)
    np.testing.assert_allclose(where.gradient.none, [0.5, 0.6], atol=0.004)
    assert page.run("document.querySelectorAll('#drawing line').length") == 2


def test_a_drag_gives_an_ellipse_in_fractions_of_the_long_edge(page, tmp_path):
    choose(page, "tool", "ellipse")
    drag(page, (0.5, 0.5), (0.7, 0.8))
    ellipse = loaded(drawn(page), tmp_path).local["here"].where.ellipse
    np.testing.assert_allclose(ellipse.centre, [0.5, 0.5], atol=0.004)
    np.testing.assert_allclose(ellipse.radius, [0.2, 0.3 * 160 / 240], atol=0.004)


def test_a_box_over_colours_gives_a_window_of_hue(page, tmp_path):
    choose(page, "tool", "hues")
    drag(page, (0.4, 0.2), (0.6, 0.8))  # a saturated red
    window = loaded(drawn(page), tmp_path).parts["hues"].root["mine"]
    assert 15 < window.centre < 40 and window.width == 20


def test_a_box_gives_a_crop(page, tmp_path):
    choose(page, "tool", "crop")
    drag(page, (0.1, 0.2), (0.9, 0.8))
    crop = loaded(drawn(page), tmp_path).parts["framing"].crop
    np.testing.assert_allclose(crop.box, [0.1, 0.2, 0.9, 0.8], atol=0.005)


def test_a_line_gives_what_should_be_level(page, tmp_path):
    choose(page, "tool", "level")
    drag(page, (0.1, 0.5), (0.9, 0.55))
    level = loaded(drawn(page), tmp_path).parts["framing"].level
    np.testing.assert_allclose(level, [[0.1, 0.5], [0.9, 0.55]], atol=0.005)


def test_what_is_drawn_on_a_turned_and_cropped_picture_lies_in_the_frame(server, tmp_path):
    framing = "framing: {straighten: 4, crop: {left: 0.3, top: 0.3, right: 0.8, bottom: 0.8}}\n"
    save(tmp_path / "look.yaml", framing)
    until(lambda: version(server) == 2)
    view = server.session.rendering(0, 2).plan.view
    text = get(server, "drawn/0/2/gradient/0.1000,0.2000;0.7000,0.6000")[2].decode()
    where = load_yaml(json.loads(text)["text"], "drawn")[0]["where"]["gradient"]
    np.testing.assert_allclose(where["full"], view.to_frame(0.1, 0.2), atol=1e-4)
    np.testing.assert_allclose(where["none"], view.to_frame(0.7, 0.6), atol=1e-4)
    crop = json.loads(get(server, "drawn/0/2/crop/0.0000,0.0000;1.0000,1.0000")[2])["text"]
    box = load_yaml(crop, "drawn")[0]["framing"]["crop"]
    np.testing.assert_allclose([*box.values()], view.box, atol=1e-4)


def test_a_window_is_that_part_of_a_render(server, tmp_path):
    """Also of a picture that is turned."""
    save(tmp_path / "look.yaml", LOOK + "framing: {straighten: 3}\n")
    until(lambda: version(server) == 2)
    session = server.session
    shown = session.shown(2)
    whole = render(open_frame(shown.originals[0]), shown.recipes[0]).array
    seen = Image.open(io.BytesIO(get(server, "window/0/2/40/20/100/60")[2]))
    assert seen.size == (100, 60)
    off = np.abs(np.array(seen, float) - whole[20:80, 40:140])
    assert off.mean() < 1.5  # a JPEG file, dithered from another place
    assert get(server, "window/0/2/200/20/100/60")[0] == 404


def test_pixels_can_be_seen_one_by_one_and_moved(page, server):
    page.open(server.url, 420, 800)  # where 200 % does not fit
    shown(page, 1)
    page.key("1", 49)
    page.wait_for("document.querySelector('#window').dataset.part")
    part = page.run("document.querySelector('#window').dataset.part")
    page.key("2", 50)
    page.wait_for(f"document.querySelector('#window').dataset.part !== '{part}'")
    drag(page, (0.5, 0.5), (0.3, 0.5))
    page.wait_for("Number(document.querySelector('#window').dataset.part.split(' ')[0]) > 40")
    page.key("0", 48)
    page.wait_for("document.querySelector('#window').hidden")


def test_a_mask_is_seen_where_it_acts(server, page):
    source = json.loads(get(server, f"mask/0/{version(server)}/0")[2])
    mask = np.array(Image.open(io.BytesIO(base64.b64decode(source.partition(",")[2]))))[..., 1]
    assert mask.shape == (160, 240)
    assert (mask[:, :48] > 250).all() and (mask[:, 73:] < 3).all()
    assert get(server, f"mask/0/{version(server)}/1")[0] == 404
    assert page.run("document.querySelector('#mask').hidden")
    page.key("k", 75)
    page.wait_for("!document.querySelector('#mask').hidden")
    page.key("k", 75)
    page.wait_for("document.querySelector('#mask').hidden")


def test_a_grey_box_has_no_hue(page):
    choose(page, "tool", "hues")
    drag(page, (0.05, 0.2), (0.25, 0.8))
    assert drawn(page) == "# grey: there is no hue in this box"


def test_a_path_gives_an_outline_with_few_corners(page):
    choose(page, "tool", "polygon")
    corners = [(0.2, 0.2), (0.8, 0.2), (0.8, 0.8), (0.2, 0.8)]
    sides = zip(corners, corners[1:], strict=False)
    drag(page, *np.concatenate([np.linspace(a, b, 9) for a, b in sides]))
    points = load_yaml(drawn(page), "drawn")[0]["where"]["polygon"]["points"]
    np.testing.assert_allclose(points, corners, atol=0.006)


def test_points_can_be_set_by_the_keyboard(page):
    choose(page, "tool", "gradient")
    page.run("document.querySelector('#picture').focus()")
    for key, code in (("ArrowUp", 38), ("Enter", 13), ("ArrowUp", 38), ("Enter", 13)):
        page.key(key, code)
    assert drawn(page) == "where: {gradient: {full: [0.5000, 0.5000], none: [0.5000, 0.4900]}}"


@pytest.mark.parametrize(
    ("against", "code"),
    [
        ("bare", grey_after(0)),
        ("part:local.left", grey_after(0.5)),
        ("part:exposure", grey_after(0.5)),
    ],
)
def test_what_is_compared_can_be_chosen(page, against, code):
    choose(page, "against", against)
    page.key(" ", 32)
    page.wait_for("document.querySelector('#label').innerText.startsWith('Without')")
    np.testing.assert_allclose(page.run(CODES + "(0.1, 0.5)"), code, atol=3)


def test_the_save_before_can_be_compared(page, tmp_path):
    save(tmp_path / "look.yaml", "exposure: {stops: -1}\n")
    shown(page, 2)
    choose(page, "against", "save")
    page.key(" ", 32)
    page.wait_for("document.querySelector('#label').innerText === 'The save before'")
    np.testing.assert_allclose(page.run(CODES + "(0.1, 0.5)"), grey_after(1), atol=3)


def test_four_frames_at_a_time(page):
    page.key("f", 70)
    page.wait_for("document.querySelectorAll('.beside').length === 3")
    frames = page.run("[...document.querySelectorAll('.beside img')].map((i) => i.dataset.frame)")
    assert frames == ["1", "2", "3"]
    page.key("f", 70)
    page.wait_for("document.querySelectorAll('.beside').length === 0")


def test_a_kept_point_tells_which_keys_act_there(page):
    left, top, width, height = box(page)
    for kind in ("mouseMoved", "mousePressed", "mouseReleased"):
        page.mouse(kind, left + 0.1 * width, top + 0.5 * height)
    page.wait_for("document.querySelectorAll('#influences code').length")
    named = page.run("[...document.querySelectorAll('#influences code')].map((c) => c.innerText)")
    assert set(named) >= {"exposure.stops", "local.left"}


def test_keys_that_act_elsewhere_are_not_told(server):
    def told(x):
        found = json.loads(get(server, f"influences/0/{version(server)}/{x}/0.5")[2])
        return {each["key"]: float(each["change"]) for each in found}

    assert "local.left" in told(0.1) and "local.left" not in told(0.5)
    assert all(change >= 0.3 for change in told(0.5).values())


@pytest.mark.parametrize(
    "path",
    ["drawn/0/1/gradient/0.1000,0.1000", "drawn/0/1/nothing/0.1000,0.1000;0.2000,0.2000",
     "drawn/0/1/gradient/2.0000,0.1000;0.2000,0.2000", "picture/0/1/without/9",
     "drawn/0/1/polygon/" + ";".join(["0.1000,0.1000"] * 401)],
)  # fmt: skip
def test_what_cannot_be_drawn_is_not_there(server, path):
    assert get(server, path)[0] == 404


@pytest.mark.parametrize("tool", TOOLS_BY_NAME)
def test_every_tool_has_words_and_a_shape(tool):
    from importlib.resources import files

    assert TOOLS_BY_NAME[tool].hint.endswith(".")
    assert f"  {tool}: (" in (files("grading.pages") / "templates" / "drawing.js").read_text()


def test_a_window_reaches_the_hues_that_are_there():
    hues = np.radians(np.linspace(350, 370, 21))
    lab = np.stack([0 * hues, 0.1 * np.cos(hues), 0.1 * np.sin(hues)])[:, None]
    centre, width = hue_window(lab)
    assert centre % 360 == pytest.approx(0, abs=1e-6)
    assert width == pytest.approx(4 * np.degrees(hues).std(), rel=1e-3)


def test_an_outline_stays_near_the_path():
    turn = np.linspace(0, 2 * np.pi, 300)
    path = np.stack([0.5 + 0.3 * np.cos(turn), 0.5 + 0.3 * np.sin(turn)], axis=1)
    few = np.array(outline(path.tolist(), (100, 100)))
    assert len(few) < 40
    middles = (few[1:] + few[:-1]) / 2
    assert abs(np.hypot(*(middles - 0.5).T) - 0.3).max() < 0.0045


@pytest.mark.parametrize("width, height", [(1400, 1000), (390, 800)])
def test_readable_with_everything_shown(page, server, width, height):
    page.open(server.url, width, height)
    shown(page, 1)
    choose(page, "tool", "ellipse")
    drag(page, (0.5, 0.5), (0.7, 0.8))
    drawn(page)
    page.key("g", 71)
    page.key("f", 70)
    page.wait_for("document.querySelectorAll('.beside').length === 3")
    page.run("Promise.all(document.getAnimations().map((a) => a.finished)).then(() => 0)")
    assert_readable(page)
    assert page.run("document.documentElement.scrollWidth") <= width


def test_colour_words_have_their_degrees_and_swatches(page):
    page.run("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    rows = page.run("""[...document.querySelectorAll('#hue-words tbody tr')].map((row) => [
      row.cells[0].innerText.trim(), row.cells[1].innerText,
      getComputedStyle(row.querySelector('circle')).fill,
    ])""")
    assert rows == [[w.word, str(w.degrees), f"rgb{w.srgb}"] for w in hue_words()]
