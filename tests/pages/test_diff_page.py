"""The page of two looks, as text and in a browser."""

import base64
import io
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from frames_in_memory import frame, recipe, two_matrix_camera
from grading.frame import Capture
from grading.pages.comparing import compare_looks
from grading.pages.diff import content
from grading.pages.html import page as html_page
from pages.html_checks import assert_readable, assert_whole_in_itself

NASTY = "<img src=x onerror=alert(1)>\"'&.dng"
NASTY_TITLE = "</title></style><script>window.harmed = true</script>{{ 7 * 7 }}"
WIDTH, HEIGHT = 600, 400


def compared(name="harbour.dng", second=None):
    """A red frame that the second look turns green, but for a strip at the right."""
    planes = np.empty((3, HEIGHT, WIDTH), np.float32)
    planes[:] = np.array([0.3, 0.06, 0.05])[:, None, None]
    planes[:, :, -60:] = 0.2
    shot = frame(planes)
    facts = replace(
        shot.facts,
        path=Path("shoot") / name,
        capture=Capture(shutter=0.01, iso=200, aperture=5.6),
        warnings=("a <b>warning</b>",),
    )
    green = recipe(hues={"reds": {"centre": 30, "width": 120, "shift": 90}})
    return compare_looks(replace(shot, facts=facts), recipe(), second or green)


def diff_page(compared, first, second, before=None, after=None):
    values = content(compared, first, second)
    return html_page("diff.html", **values, before=before, after=after)


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    path = tmp_path_factory.mktemp("page") / "harbour.html"
    first, second = recipe(title="As shot"), recipe(title="Green")
    path.write_bytes(diff_page(compared(), first, second, after=("next.dng", "next.html")))
    return path


def colour_at(browser, x, y):
    return screenshot(browser).getpixel((round(x), round(y)))


def screenshot(browser):
    data = base64.b64decode(browser.send("Page.captureScreenshot")["data"])
    return Image.open(io.BytesIO(data)).convert("RGB")


def side(browser, share, down=0.3):
    """Which look is seen at a share of the window's width: A is red, B is green."""
    box = stage_box(browser)
    red, green, _ = colour_at(browser, box[0] + share * box[2], box[1] + down * box[3])
    return "A" if red > green else "B"


def divider_value(browser):
    return float(browser.run("document.querySelector('#divider').value"))


def stage_box(browser):
    """x, y, width and height of the window onto the pictures, brought into sight."""
    return browser.run("""(() => {
      const stage = document.querySelector('.stage');
      stage.scrollIntoView({block: 'nearest'});
      const {x, y, width, height} = stage.getBoundingClientRect();
      return [x, y, width, height];
    })()""")


def test_page_is_whole_in_itself(page):
    parts = assert_whole_in_itself(page.read_bytes())
    assert parts.tags.count("h1") == 1
    assert ("html", "lang", "en") in parts.attributes
    for text in ("harbour.dng", "As shot", "Green", "1/100", "hues.reds: none → {centre: 30"):
        assert text in parts.text


def test_the_same_input_gives_the_same_bytes(page):
    first, second = recipe(title="As shot"), recipe(title="Green")
    again = diff_page(compared(), first, second, after=("next.dng", "next.html"))
    assert again == page.read_bytes()


def test_names_and_titles_are_only_text():
    nasty = recipe(title=NASTY_TITLE, exposure={"stops": 1})
    data = diff_page(compared(NASTY, nasty), nasty, nasty, (NASTY, "a.html"), (NASTY, "b.html"))
    parts = assert_whole_in_itself(data)
    assert parts.tags.count("script") == 1
    assert parts.tags.count("style") == 1
    assert NASTY in parts.text
    assert NASTY_TITLE in parts.text
    assert "a <b>warning</b>" in parts.text


def test_every_image_is_described():
    data = diff_page(compared(), recipe(), recipe())
    parts = assert_whole_in_itself(data)
    alternatives = [value for tag, name, value in parts.attributes if (tag, name) == ("img", "alt")]
    assert len(alternatives) == parts.tags.count("img")
    assert sum(bool(text) for text in alternatives) == 3  # the marks repeat what a table says


def test_nasty_names_do_nothing_in_a_browser(browser, tmp_path):
    nasty = recipe(title=NASTY_TITLE, exposure={"stops": 1})
    path = tmp_path / "a&b #1.html"
    path.write_bytes(diff_page(compared(NASTY, nasty), nasty, nasty))
    browser.open(path)
    assert browser.run("window.harmed === undefined && !document.querySelector('img[src=x]')")
    assert browser.requests() == [] and browser.problems() == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("shown", ["looks", "clipping", "map"])
def test_page_is_readable(browser, page, scheme, shown):
    browser.open(page, scheme=scheme)
    browser.run(f"document.querySelector('#show-{shown}').click()")
    assert_readable(browser)
    assert browser.requests() == [] and browser.problems() == []


@pytest.mark.parametrize("width", [320, 390, 768, 1920])
def test_page_fits_its_window(browser, page, width):
    browser.open(page, width=width, height=800, mobile=width < 500)
    assert browser.run("document.documentElement.scrollWidth") <= width
    box = stage_box(browser)
    assert box[2] / box[3] == pytest.approx(WIDTH / HEIGHT, rel=0.01)


def test_surround_is_neutral_and_about_middle_grey(browser, page):
    for scheme in ("light", "dark"):
        browser.open(page, scheme=scheme)
        surround = "getComputedStyle(document.querySelector('.surround')).backgroundColor"
        assert browser.run(surround) == "rgb(119, 119, 119)"  # 18.4 % of white by IEC 61966-2-1


def test_divider_by_the_keyboard(browser, page):
    browser.open(page)
    assert [side(browser, share) for share in (0.2, 0.45, 0.55, 0.8)] == ["A", "A", "B", "B"]
    browser.run("document.querySelector('#divider').focus()")
    browser.key("Home", 36)
    assert side(browser, 0.05) == "B"
    browser.key("End", 35)
    assert side(browser, 0.85) == "A"
    for _ in range(20):
        browser.key("ArrowLeft", 37)
    assert divider_value(browser) == 90
    assert browser.run("document.querySelector('#divider').ariaValueText") == "90 % A"


def test_picture_and_divider_are_seen_together(browser, page):
    for width, height in ((1920, 1080), (1280, 720), (390, 800)):
        browser.open(page, width=width, height=height)
        bottom = browser.run("document.querySelector('#divider').getBoundingClientRect().bottom")
        assert bottom <= height


def test_divider_by_the_mouse(browser, page):
    browser.open(page)
    x, y, width, height = stage_box(browser)
    browser.mouse("mousePressed", x + width / 2, y + height / 2)
    browser.mouse("mouseMoved", x + width * 0.25, y + height / 2)
    browser.mouse("mouseReleased", x + width * 0.25, y + height / 2)
    browser.mouse("mouseMoved", x + width * 0.7, y + height / 2)
    assert divider_value(browser) == pytest.approx(25, abs=1)
    assert [side(browser, share) for share in (0.2, 0.3)] == ["A", "B"]


def test_divider_by_touch(browser, page):
    browser.open(page, width=400, height=800, mobile=True)
    x, y, width, height = stage_box(browser)
    for kind, share in (("touchStart", 0.5), ("touchMove", 0.6), ("touchMove", 0.75)):
        point = {"x": x + share * width, "y": y + height / 2}
        browser.send("Input.dispatchTouchEvent", type=kind, touchPoints=[point])
    browser.send("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])
    assert divider_value(browser) == pytest.approx(75, abs=1)
    assert [side(browser, share) for share in (0.7, 0.8)] == ["A", "B"]


def test_controls_come_in_reading_order(browser, page):
    browser.open(page)
    reached = []
    for _ in range(9):
        browser.key("Tab", 9)
        name = "(e => e.id || e.className || e.tagName)(document.activeElement)"
        reached.append(browser.run(name))
    assert reached[:7] == ["skip", "A", "show-looks", "actual", "largest", "stage", "divider"]


@pytest.mark.parametrize("scale", [1, 2])
def test_actual_pixels_are_pixels_of_the_screen(browser, page, scale):
    browser.open(page, width=500, height=500, scale=scale)
    browser.run("document.querySelector('#actual').click()")
    width = browser.run("document.querySelector('.layer img').getBoundingClientRect().width")
    assert width * scale == pytest.approx(WIDTH, abs=0.5)


def test_divider_stays_in_sight_while_actual_pixels_scroll(browser, page):
    browser.open(page, width=400, height=500)
    browser.run("document.querySelector('#actual').click()")
    browser.run("document.querySelector('.stage').scrollLeft = 0")
    assert [side(browser, share) for share in (0.4, 0.6)] == ["A", "B"]
    browser.run("document.querySelector('.stage').scrollLeft = 150")
    assert [side(browser, share) for share in (0.4, 0.6)] == ["A", "B"]


def test_where_they_differ_most_is_brought_into_sight(browser, page):
    browser.open(page, width=400, height=500)
    browser.run("document.querySelector('#largest').click()")
    x, _ = browser.run(
        "(d => [Number(d.x), Number(d.y)])(document.querySelector('.viewer').dataset)"
    )
    assert x < 1 - 60 / WIDTH  # not in the strip that stays grey
    place = "(s => [s.scrollLeft, s.clientWidth])(document.querySelector('.stage'))"
    left, seen = browser.run(place)
    assert left <= x * WIDTH <= left + seen


def test_map_is_dark_where_nothing_differs(browser, page):
    browser.open(page)
    browser.run("document.querySelector('#show-map').click()")
    x, y, width, height = stage_box(browser)
    changed = colour_at(browser, x + 0.4 * width, y + height / 2)
    same = colour_at(browser, x + 0.95 * width, y + height / 2)
    assert sum(changed) > 500 > 150 > sum(same)


def test_page_works_without_script(browser, page):
    browser.send("Emulation.setScriptExecutionDisabled", value=True)
    browser.open(page)
    shown = [side_without_script(browser, share) for share in (0.3, 0.7)]
    browser.send("Emulation.setScriptExecutionDisabled", value=False)
    assert shown == ["A", "B"]


def side_without_script(browser, share):
    """As `side`, from the layout alone."""
    root = browser.send("DOM.getDocument")["root"]["nodeId"]
    stage = browser.send("DOM.querySelector", nodeId=root, selector=".stage")["nodeId"]
    box = browser.send("DOM.getBoxModel", nodeId=stage)["model"]["content"]
    x = box[0] + share * (box[2] - box[0])
    red, green, _ = screenshot(browser).getpixel((round(x), round((box[1] + box[5]) / 2)))
    return "A" if red > green else "B"


def test_a_light_without_a_temperature():
    """That of a green lamp, as shot; the other look states a light."""
    planes = np.full((3, 40, 60), 0.3, np.float32)
    shot = frame(planes, two_matrix_camera((0.001, 1.0, 0.001)))
    looks = recipe(), recipe(white_balance={"kelvin": 5000.0})
    text = diff_page(compare_looks(shot, *looks), *looks).decode()
    assert "<td>as shot</td><td>5000</td>" in text
    assert "<td>none</td><td>+0.00" in text
