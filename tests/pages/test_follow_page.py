"""The follow page in a browser: saves, errors, keys, pointer and touch."""

import json

import numpy as np
import pytest

from pages.follow_setup import followed, grey_after, save
from pages.html_checks import assert_readable

# the sRGB codes of the picture at a place, read back from the decoded image
CODES = """
((x, y) => {
  const shown = document.querySelector('#shown');
  const canvas = document.createElement('canvas');
  [canvas.width, canvas.height] = [shown.naturalWidth, shown.naturalHeight];
  const context = canvas.getContext('2d');
  context.drawImage(shown, 0, 0);
  return [...context.getImageData(x * canvas.width, y * canvas.height, 1, 1).data].slice(0, 3);
})"""


@pytest.fixture
def opened(tmp_path, browser):
    """The browser at the page of a followed recipe, its picture shown."""
    with followed(tmp_path, "title: Dusk\nexposure: {stops: 0.5}\n", frames=3) as server:
        browser.open(server.url, 1400, 900)
        shown(browser, 1)
        yield browser
        browser.open("about:blank")


def shown(browser, version, frame=0):
    browser.wait_for(
        f"document.querySelector('#shown').dataset.version === '{version}'"
        f" && document.querySelector('#shown').dataset.frame === '{frame}'"
    )


def text(browser, selector):
    return browser.run(f"document.querySelector({json.dumps(selector)}).innerText")


def box(browser):
    return browser.run("""(() => {
      const {x, y, width, height} = document.querySelector('#picture').getBoundingClientRect();
      return [x, y, width, height];
    })()""")


def point_at(browser, x, y, press=False):
    left, top, width, height = box(browser)
    place = left + x * width, top + y * height
    browser.mouse("mouseMoved", *place)
    if press:
        browser.mouse("mousePressed", *place)
        browser.mouse("mouseReleased", *place)


def place_read(browser, place):
    browser.wait_for(f"document.querySelector('[data-of=\"copy.place\"]').innerText === '{place}'")


def test_save_error_and_recovery(opened, tmp_path):
    assert text(opened, "h1") == "Dusk"
    np.testing.assert_allclose(opened.run(CODES + "(0.1, 0.5)"), grey_after(0.5), atol=2)
    save(tmp_path / "look.yaml", "title: Noon\nexposure: {stops: 1}\n")
    shown(opened, 2)
    assert text(opened, "h1") == "Noon"
    np.testing.assert_allclose(opened.run(CODES + "(0.1, 0.5)"), grey_after(1), atol=2)
    where = box(opened)

    save(tmp_path / "look.yaml", "exposure: {stop: 1}\ntone_curve: {contrast: 9}\n")
    opened.wait_for("!document.querySelector('#trouble').hidden")
    reported = text(opened, "#trouble")
    assert f"{tmp_path / 'look.yaml'}:2:12" in reported
    assert f"{tmp_path / 'look.yaml'}:3:24" in reported
    assert "did you mean stops?" in reported
    assert "before the error" in text(opened, "#label")
    np.testing.assert_allclose(opened.run(CODES + "(0.1, 0.5)"), grey_after(1), atol=2)
    assert box(opened) == where  # nothing that comes and goes moves the picture

    save(tmp_path / "look.yaml", "exposure: {stops: -1}\n")
    shown(opened, 3)
    assert opened.run("document.querySelector('#trouble').hidden")
    assert text(opened, "#label") == ""
    np.testing.assert_allclose(opened.run(CODES + "(0.1, 0.5)"), grey_after(-1), atol=2)
    assert opened.problems() == []


def test_error_of_one_frame(opened, tmp_path):
    """A neutral sampled from what is burnt out concerns the frame, not the file."""
    save(tmp_path / "look.yaml", "white_balance: {neutral: [0.9, 0.5]}\n")
    opened.wait_for("!document.querySelector('#trouble').hidden")
    assert "white_balance.neutral" in text(opened, "#trouble")
    np.testing.assert_allclose(opened.run(CODES + "(0.1, 0.5)"), grey_after(0.5), atol=2)
    point_at(opened, 0.1, 0.5)  # a better place can still be looked for
    opened.wait_for("document.querySelector('[data-of=light]').innerText.startsWith('650')")
    save(tmp_path / "look.yaml", "white_balance: {neutral: [0.1, 0.5]}\n")
    opened.wait_for("document.querySelector('#trouble').hidden")


def test_frame_that_cannot_be_opened(opened, tmp_path):
    """Its neighbour's picture and figures do not stand in for it."""
    (tmp_path / "frame 2.png").write_bytes(b"\x89PNG no more")
    opened.run("document.querySelector('#previous').click()")
    opened.wait_for("!document.querySelector('#trouble').hidden")
    assert "This frame cannot be shown" in text(opened, "#trouble")
    assert str(tmp_path / "frame 2.png") in text(opened, "#trouble")
    assert not opened.run("document.querySelector('#shown').hasAttribute('src')")
    assert text(opened, "#outside") == text(opened, "#light") == "–"
    opened.run("document.querySelector('#next').click()")
    shown(opened, 1, 0)
    assert opened.run("document.querySelector('#trouble').hidden")


def test_keys(opened):
    opened.key("PageDown", 34)
    shown(opened, 1, 1)
    opened.key("PageDown", 34)
    shown(opened, 1, 2)
    opened.key("PageDown", 34)
    shown(opened, 1, 0)
    opened.key("PageUp", 33)
    shown(opened, 1, 2)
    assert text(opened, "#number") == "3"
    assert opened.run("document.querySelector('#frame').selectedOptions[0].text") == "frame 2.png"
    opened.key(" ", 32)
    shown(opened, 0, 2)
    assert text(opened, "#label") == "Without the recipe"
    np.testing.assert_allclose(opened.run(CODES + "(0.1, 0.5)"), grey_after(0), atol=2)
    assert opened.run("document.querySelector('#before').ariaPressed") == "true"
    opened.key(" ", 32)
    shown(opened, 1, 2)
    for _ in range(3):
        opened.key("ArrowLeft", 37)
    place_read(opened, "[0.4800, 0.5000]")
    opened.key("ArrowDown", 40)
    place_read(opened, "[0.4800, 0.5100]")
    assert "hue R" in text(opened, "#said")
    opened.key("m", 77)
    opened.wait_for("!document.querySelector('#marks').hidden")
    opened.key("Escape", 27)
    opened.wait_for("document.querySelector('#cross').hasAttribute('hidden')")
    assert text(opened, "[data-of=scene]") == "–"
    assert opened.problems() == []


def test_letters_act_on_the_picture_only(opened):
    """WCAG 2.2, 2.1.4: a key that is a character acts while its part of the page has the focus."""
    opened.run("document.querySelector('#next').focus()")
    opened.key("m", 77)
    assert opened.run("document.querySelector('#show-marks').ariaPressed") == "false"


def test_pointer(opened):
    point_at(opened, 0.1, 0.5)
    opened.wait_for("document.querySelector('[data-of=hue]').innerText === 'grey'")
    assert text(opened, "[data-of=scene]") == "+0.51 stops"
    assert text(opened, "[data-of=light]").startswith("650")
    point_at(opened, 0.5, 0.5, press=True)
    opened.wait_for("document.querySelector('[data-of=hue]').innerText.startsWith('R, ')")
    point_at(opened, 0.1, 0.25)
    opened.wait_for("document.querySelector('[data-of=hue]').innerText === 'grey'")
    opened.mouse("mouseMoved", 1, 1)  # away: back to the place that was kept
    opened.wait_for("document.querySelector('[data-of=hue]').innerText.startsWith('R, ')")
    assert not opened.run("document.querySelector('#cross').hasAttribute('hidden')")


def test_touch(opened):
    left, top, width, height = box(opened)
    finger = {"x": left + 0.25 * width, "y": top + 0.75 * height}
    opened.send("Input.dispatchTouchEvent", type="touchStart", touchPoints=[finger])
    opened.send("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])
    opened.wait_for("document.querySelector('[data-of=hue]').innerText === 'grey'")
    x, y = json.loads(text(opened, '[data-of="copy.place"]'))
    assert (x, y) == (pytest.approx(0.25, abs=0.01), pytest.approx(0.75, abs=0.01))


def test_buttons(opened):
    for name, version, frame in (("next", 1, 1), ("before", 0, 1), ("previous", 0, 0)):
        opened.run(f"document.querySelector('#{name}').click()")
        shown(opened, version, frame)
    opened.run("document.querySelector('#show-marks').click()")
    opened.wait_for("!document.querySelector('#marks').hidden")
    assert opened.run("document.querySelector('#marks').naturalWidth") == 240


def test_copies_what_a_recipe_can_hold(opened):
    permissions = ["clipboardReadWrite", "clipboardSanitizedWrite"]
    opened.send("Browser.grantPermissions", permissions=permissions)
    point_at(opened, 0.1, 0.5, press=True)
    opened.wait_for("!document.querySelector('[data-copy=neutral]').disabled")
    opened.run("document.querySelector('[data-copy=neutral]').focus()")
    opened.key(" ", 32)
    opened.wait_for("document.querySelector('#status').innerText !== ''")
    assert text(opened, "#status").startswith("Copied white_balance: {neutral: [0.1")
    copied = opened.run("navigator.clipboard.readText()")
    assert copied.startswith("white_balance: {neutral: [0.")


def test_asks_only_its_own_server(opened, tmp_path):
    point_at(opened, 0.5, 0.5, press=True)
    opened.key("m", 77)
    opened.wait_for("!document.querySelector('#marks').hidden")
    base = opened.run("location.href")
    assert base.startswith("http://127.0.0.1:")
    asked = opened.requests()
    assert len(asked) > 5
    assert all(url.startswith(base) for url in asked)


def test_policy_keeps_strange_script_out(opened):
    opened.run("""(() => {
      const script = document.createElement('script');
      script.textContent = 'window.harmed = true';
      document.body.append(script);
      document.querySelector('h1').innerHTML = '<img src=x onerror="window.harmed = true">';
    })()""")
    assert opened.run("fetch('http://localhost:9/').then(() => 'sent', () => 'kept')") == "kept"
    assert opened.run("window.harmed === undefined")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width, height, mobile", [(1400, 900, False), (390, 800, True)])
def test_readable_by_everyone(tmp_path, browser, scheme, width, height, mobile):
    with followed(tmp_path, "exposure: {stop: 0.5}\n") as server:
        browser.open(server.url, width, height, scheme=scheme, mobile=mobile)
        browser.wait_for("!document.querySelector('#trouble').hidden")
        browser.run("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
        browser.run("document.querySelector('#show-marks').click()")
        browser.run("document.querySelector('#before').click()")
        shown(browser, 0)
        browser.run("Promise.all(document.getAnimations().map((a) => a.finished)).then(() => 0)")
        assert_readable(browser)
        wide = browser.run("document.documentElement.scrollWidth")
        assert wide <= width  # WCAG 2.2, 1.4.10: no scrolling in two directions
        small = browser.run("""[...document.querySelectorAll('button, select, summary')]
          .filter((e) => e.checkVisibility() && e.getBoundingClientRect().height < 24)
          .map((e) => e.id)""")
        assert small == []  # WCAG 2.2, 2.5.8: targets of 24 CSS pixels
        browser.open("about:blank")


def test_tells_when_the_command_has_ended(tmp_path, browser):
    with followed(tmp_path) as server:
        browser.open(server.url)
        shown(browser, 1)
    browser.wait_for("document.querySelector('#status').innerText.includes('ended')")
    browser.open("about:blank")
