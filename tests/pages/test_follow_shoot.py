"""A shoot that is followed: frames, looks and levelling through saves, and its page."""

import json
import os
import threading
from contextlib import contextmanager

import pytest
from click.testing import CliRunner

from evening.conftest import card, shoot  # noqa: F401
from grading.cli import main
from grading.evening.level import measure
from grading.pages.follow.run import following
from grading.pages.follow.watch import files_of_shoot
from pages.follow_setup import contents_of, save, until
from pages.html_checks import assert_readable

TEXT = """
title: An evening
level: {keep_fall: 0.2}
frames:
  F2: {mark: 4, caption: The pilot boat}
  F3: {leave_out: true}
"""


@pytest.fixture
def evening(card, shoot, tmp_path):  # noqa: F811
    """The shoot file of four frames, one of them left out, and of two looks."""
    card()
    save(tmp_path / "bright.yaml", "exposure: {stops: 2}\n")
    return shoot(TEXT, looks="[evenlight, bright.yaml]").path


@pytest.fixture
def opened(monkeypatch):
    """Names of the frames that levelling opened, in order."""
    names = []

    def noting(path, **options):
        names.append(path.stem)
        return open_frame(path, **options)

    open_frame = measure.open_frame
    monkeypatch.setattr(measure, "open_frame", noting)
    return names


@contextmanager
def followed(path, *names):
    with following(path, names) as server:
        thread = threading.Thread(target=server.session.follow)
        thread.start()
        yield server
    thread.join(10)
    assert not thread.is_alive()


def edit(path, old, new):
    text = path.read_text()
    assert old in text
    fresh = path.with_name("unsaved")
    fresh.write_text(text.replace(old, new))
    os.replace(fresh, path)


def shown(server):
    return server.session.state.latest.shown


def levelled(server, different_from=()):
    """The course, once it is measured and another than it was."""
    return until(lambda: shown(server).course != different_from and shown(server).course, 60)


def brightness(server, item):
    version = server.session.state.latest.number
    return server.session.rendering(item, version).picture.array.mean()


def test_frames_and_looks_are_those_of_the_shoot(evening):
    with followed(evening) as server:
        levelled(server)
        now = shown(server)
        assert now.title == "An evening" and now.looks == ("evenlight", "bright")
        assert [path.stem for path in now.originals] == ["F1", "F2", "F4"]
        assert now.notes[1][:2] == ["Mark 4", "The pilot boat"]
        assert brightness(server, 3 + 1) > brightness(server, 1) + 20
        assert [each["clock"] for each in now.course] == ["19:00", "19:06", "19:18"]


def test_levelling_reaches_the_pictures(evening):
    with followed(evening) as server:
        for each, recipe in zip(levelled(server), shown(server).recipes, strict=False):
            assert recipe.stages["exposure"].levelling == each["stops"]


def test_each_frame_is_measured_once(evening, opened, card):  # noqa: F811
    with followed(evening) as server:
        first = levelled(server)
        assert opened == ["F1", "F2", "F4"]

        number = server.session.state.latest.number
        edit(evening, "mark: 4", "mark: 5, exposure: {stops: -1}")
        until(lambda: server.session.state.latest.number > number)
        assert shown(server).notes[1][0] == "Mark 5" and shown(server).course == first

        edit(evening, "keep_fall: 0.2", "keep_fall: 1, limit: 0")
        second = levelled(server, first)
        assert {each["stops"] for each in second} == {0}
        assert opened == ["F1", "F2", "F4"]

        edit(evening, "F3: {leave_out: true}", "F3: {}")
        until(lambda: len(shown(server).course) == 4, 60)
        assert opened == ["F1", "F2", "F4", "F3"]


def test_what_goes_on_is_said(evening):
    said = []
    with followed(evening) as server:
        number = -1
        while not (said and not said[-1]):
            state = server.session.wait(number, 30)
            number = state.number
            said += [state.work] if state.work or said else []
            assert len(said) < 50
    assert said[0].startswith("Levelling: ") and said[0].endswith("of 3 frames measured")


def test_a_look_that_is_saved_is_shown(evening, tmp_path):
    with followed(evening) as server:
        levelled(server)
        before = brightness(server, 3)
        number = server.session.state.latest.number
        save(tmp_path / "bright.yaml", "exposure: {stops: -2}\n")
        until(lambda: server.session.state.latest.number > number)
        assert brightness(server, 3) < before - 20


def test_an_error_has_its_place_and_the_last_state_stays(evening):
    with followed(evening) as server:
        levelled(server)
        number = server.session.state.latest.number
        edit(evening, "mark: 4", "mark: 9")
        error = until(lambda: server.session.state.error)
        assert error.startswith(f"{evening}:9:14: frames.F2.mark")
        assert server.session.state.latest.number == number
        edit(evening, "mark: 9", "mark: 3")
        until(lambda: server.session.state.error is None)
        assert shown(server).notes[1][0] == "Mark 3"


def test_a_shoot_that_is_wrong_from_the_start_is_awaited(evening):
    edit(evening, "mark: 4", "mark: 9")
    with followed(evening) as server:
        assert "frames.F2.mark" in server.session.state.error
        assert shown(server).originals == ()
        edit(evening, "mark: 9", "mark: 4")
        levelled(server)
        assert len(shown(server).originals) == 3


def test_only_some_frames(evening):
    with followed(evening, "F[24]") as server:
        course = levelled(server)
        assert [path.stem for path in shown(server).originals] == ["F2", "F4"]
        assert [(each["name"], each["frame"]) for each in course] == [
            ("F1", None), ("F2", 0), ("F4", 1)
        ]  # fmt: skip


def test_a_frame_that_is_none_ends_the_command(evening):
    result = CliRunner().invoke(main, ["follow", str(evening), "F9"])
    assert result.exit_code == 2 and "there is no frame F9" in result.output
    result = CliRunner().invoke(main, ["follow", str(evening), "--pairs", "both"])
    assert result.exit_code == 2 and "states this itself: --pairs" in result.output
    result = CliRunner().invoke(main, ["follow", "evenlight"])
    assert result.exit_code == 2 and "only a shoot file needs none" in result.output


def test_the_end_does_not_wait_for_frames_to_be_measured(evening, monkeypatch):
    begun, go = threading.Event(), threading.Event()
    names = []

    def slow(path, **options):
        names.append(path.stem)
        begun.set()
        assert go.wait(30)
        return open_frame(path, **options)

    open_frame = measure.open_frame
    monkeypatch.setattr(measure, "open_frame", slow)
    threads = set(threading.enumerate())
    with followed(evening) as server:
        assert begun.wait(30)
        threading.Timer(0.2, go.set).start()
        server.session.followed._ended.set()
    until(lambda: set(threading.enumerate()) <= threads)
    assert len(names) <= measure.AT_ONCE + 1


def test_no_file_is_changed(evening, tmp_path):
    before = contents_of(tmp_path)
    with followed(evening) as server:
        levelled(server)
        brightness(server, 4)
    assert contents_of(tmp_path) == before


def test_files_of_a_shoot(evening, tmp_path):
    edit(evening, "mark: 4", "mark: 4, cdl: {file: one.cc}, looks: {bright: {cdl: {file: two.cc}}}")
    found = [path.name for path in files_of_shoot(evening)]
    assert found[:3] == ["evening.yaml", "one.cc", "two.cc"]
    assert {"evenlight.yaml", "bright.yaml"} <= set(found)
    for text in ("shoot: 1\nlooks: 3\nframes: []\ngroups: {a: 3}\n", "- a\n", ""):
        evening.write_text(text)
        assert files_of_shoot(evening) == [evening]


@pytest.fixture
def page(evening, browser):
    """The browser at the page of the shoot, measured."""
    with followed(evening) as server:
        levelled(server)
        browser.open(server.url, 1400, 900)
        at(browser, 0)
        yield browser
        assert browser.problems() == []
        browser.open("about:blank")


def at(browser, frame, which="shown"):
    browser.wait_for(f"document.querySelector('#{which}')?.dataset.frame === '{frame}'")


def text(browser, selector):
    return browser.run(f"document.querySelector({json.dumps(selector)}).innerText")


def test_the_course_marks_the_frame_and_leads_to_others(page):
    assert page.run("document.querySelectorAll('#course circle').length") == 3
    assert text(page, "#course-said").startswith("F1: light ")
    place = page.run("document.querySelector('#course .present').x1.baseVal.value")
    page.key("PageDown", 34)
    at(page, 1)
    assert page.run("document.querySelector('#course .present').x1.baseVal.value") > place
    assert text(page, "#course-said").startswith("F2: light ")
    assert text(page, "#notes").splitlines()[:2] == ["Mark 4", "The pilot boat"]
    x, y = page.run("""(() => {
      const box = document.querySelector('#course svg').getBoundingClientRect();
      return [box.right - 45, box.top + 20];
    })()""")
    page.mouse("mousePressed", x, y)
    page.mouse("mouseReleased", x, y)
    at(page, 2)


def test_two_frames_stand_side_by_side_and_one_can_be_held(page):
    page.key("t", 84)
    at(page, 1, "beside img")
    left, right = page.run("""['#picture', '#beside'].map((id) => {
      const {left, right, top, width} = document.querySelector(id).getBoundingClientRect();
      return [left, right, top, width];
    })""")
    assert left[1] <= right[0] and left[2:] == pytest.approx(right[2:], abs=1)
    assert text(page, "#label") == "F1.dng" and text(page, "#beside figcaption") == "F2.dng"
    page.key("PageDown", 34)
    at(page, 1)
    at(page, 2, "beside img")
    page.key("h", 72)
    page.wait_for("document.querySelector('#beside figcaption').innerText === 'F4.dng, held'")
    page.key("PageUp", 33)
    at(page, 0)
    at(page, 2, "beside img")
    page.run("document.querySelector('#beside').click()")
    at(page, 2)
    page.run("document.querySelector('#two').click()")
    page.wait_for("!document.querySelector('#beside')")


def test_looks_can_be_compared_side_by_side(page):
    page.run("""(() => {
      const against = document.querySelector('#against');
      against.value = 'look:bright';
      against.dispatchEvent(new Event('change'));
    })()""")
    page.key("b", 66)
    page.wait_for("document.querySelector('#beside figcaption')?.innerText.includes('bright')")
    first, second = page.run(
        "[...document.querySelectorAll('#shown, #beside img')].map((image) => image.src)"
    )
    assert "/picture/0/" in first and "/picture/3/" in second
    page.key("b", 66)
    page.wait_for("!document.querySelector('#beside')")


def test_looks_can_be_changed(page):
    source = page.run("document.querySelector('#shown').src")
    page.key("l", 76)
    page.wait_for(f"document.querySelector('#shown').src !== '{source}'")
    assert page.run("document.querySelector('#look').selectedOptions[0].text") == "bright"
    assert "/picture/3/" in page.run("document.querySelector('#shown').src")


def test_the_frame_stays_when_others_come(page, evening):
    page.key("PageUp", 33)
    at(page, 2)
    edit(evening, "F3: {leave_out: true}", "F3: {}")
    at(page, 3)
    assert page.run("document.querySelector('#frame').selectedOptions[0].text") == "F4.dng"
    assert text(page, "#number") == "4" and text(page, "#count") == "4"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1400])
def test_readable_by_everyone(evening, browser, scheme, width):
    with followed(evening) as server:
        levelled(server)
        browser.open(server.url, width, 800, scheme=scheme)
        at(browser, 0)
        browser.run("document.querySelector('#two').click()")
        at(browser, 1, "beside img")
        browser.run("Promise.all(document.getAnimations().map((a) => a.finished)).then(() => 0)")
        assert_readable(browser)
        assert browser.run("document.documentElement.scrollWidth") <= width
        browser.open("about:blank")
