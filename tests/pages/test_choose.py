"""Choosing: what is said is in the file, whatever else happens; the page, by keys and by hand."""

import http.client
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import yaml

from evening.conftest import card, shoot  # noqa: F401
from grading.evening.load import load_shoot
from grading.evening.marks import Entry, load_marks, save_marks
from grading.evening.settle import settle_all
from grading.pages.choose import told
from grading.pages.choose.run import choosing
from grading.pages.choose.session import Choosing, Refused
from pages.html_checks import assert_readable


@pytest.fixture
def evening(card, shoot, tmp_path):  # noqa: F811
    """A shoot of five frames that names its marks file."""
    card(5)
    (tmp_path / "marks.yaml").write_text("marks: 1\n")
    return shoot("marks: marks.yaml\n").path


@pytest.fixture
def session(evening):
    session = Choosing(load_shoot(evening))
    yield session
    session.close()


@pytest.fixture
def server(evening):
    with choosing(evening) as server:
        yield server


def kept(folder):
    return yaml.safe_load((folder / "marks.yaml").read_text()).get("frames") or {}


def post(server, path, value, **headers):
    """Status and body of a change."""
    host, port = server.server_address
    connection = http.client.HTTPConnection(host, port, timeout=30)
    sent = {"Content-Type": "application/json", "Origin": f"http://{host}:{port}"}
    sent |= {name.replace("_", "-"): each for name, each in headers.items()}
    sent = {name: each for name, each in sent.items() if each is not None}
    connection.request("POST", f"/{server.token}/{path}", json.dumps(value), sent)
    answer = connection.getresponse()
    return answer.status, answer.read()


def test_a_word_is_in_the_file_and_the_shoot_takes_it_over(session, evening, tmp_path):
    session.say(0, {"mark": 4})
    session.say(1, {"leave_out": True})
    session.say(2, {"framing": {"straighten": -1.5}})
    assert kept(tmp_path) == {
        "F1": {"mark": 4}, "F2": {"leave_out": True}, "F3": {"framing": {"straighten": -1.5}},
    }  # fmt: skip
    settled = load_shoot(evening)
    recipes = settle_all(settled)
    assert [frame.name for frame in settled.rendered] == ["F1", "F3", "F4", "F5"]
    assert recipes["F3", "evenlight"].parts["framing"].straighten == -1.5
    assert settled.note(settled.frames[0]).mark == 4


def test_undo_takes_back_one_word_after_the_other(session, tmp_path):
    session.say(0, {"mark": 4})
    session.say(0, {"mark": 2})
    session.say(1, {"leave_out": True})
    assert session.undo() == 1 and kept(tmp_path) == {"F1": {"mark": 2}}
    assert session.undo() == 0 and kept(tmp_path) == {"F1": {"mark": 4}}
    assert session.undo() == 0 and kept(tmp_path) == {}
    assert session.undo() is None


def test_what_another_program_says_of_another_frame_stays(session, tmp_path):
    session.say(0, {"mark": 4})
    other = load_marks(tmp_path / "marks.yaml")
    save_marks(other.stating("F3", Entry(mark=5)))
    session.say(1, {"mark": 2})
    assert kept(tmp_path) == {"F1": {"mark": 4}, "F2": {"mark": 2}, "F3": {"mark": 5}}


def test_what_another_program_says_of_the_same_frame_is_not_overwritten(session, tmp_path):
    session.say(0, {"mark": 4})
    other = load_marks(tmp_path / "marks.yaml")
    save_marks(other.stating("F1", Entry(mark=1)))
    with pytest.raises(Refused, match="another program said something else"):
        session.say(0, {"mark": 5})
    assert kept(tmp_path) == {"F1": {"mark": 1}}
    session.say(0, {"mark": 5})  # it was looked at again
    assert kept(tmp_path) == {"F1": {"mark": 5}}


@pytest.mark.parametrize(
    "stated", [{"mark": 9}, {"mark": "high"}, {"stars": 3}, {"framing": {"straighten": 90}}]
)
def test_what_is_no_entry_is_refused_and_nothing_is_written(session, tmp_path, stated):
    with pytest.raises(Refused):
        session.say(0, stated)
    assert (tmp_path / "marks.yaml").read_text() == "marks: 1\n"


def test_a_shoot_without_marks_gets_a_file_called_after_it(card, shoot, tmp_path):  # noqa: F811
    card(1)
    session = Choosing(load_shoot(shoot().path, begins_marks=True))
    session.say(0, {"mark": 3})
    session.close()
    assert (tmp_path / "evening.marks.yaml").exists()


def test_originals_and_shoot_file_stay_as_they_are(server, evening, tmp_path):
    def contents():
        others = (p for p in tmp_path.rglob("*") if p.is_file() and p.name != "marks.yaml")
        return {path: path.read_bytes() for path in others}

    before = contents()
    assert post(server, "say/0", {"mark": 3})[0] == 200
    assert post(server, "undo", {})[0] == 200
    assert contents() == before


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"Origin": None}, 403),
        ({"Origin": "http://elsewhere.example"}, 403),
        ({"Host": "elsewhere.example"}, 403),
        ({"Sec_Fetch_Site": "cross-site"}, 403),
        ({"Content_Type": "text/plain"}, 400),
    ],
)
def test_only_its_own_page_may_change_anything(server, tmp_path, headers, status):
    assert post(server, "say/0", {"mark": 3}, **headers)[0] == status
    assert (tmp_path / "marks.yaml").read_text() == "marks: 1\n"


@pytest.mark.parametrize(
    ("path", "value", "status"),
    [
        ("say/9", {"mark": 3}, 404),
        ("say/0", [1], 400),
        ("say/0", {"mark": 7}, 422),
        ("say/0", {"x": "y" * 20000}, 413),
        ("picture/0", {}, 404),
        ("../marks.yaml", {}, 404),
    ],
)
def test_what_makes_no_sense_is_refused(server, tmp_path, path, value, status):
    assert post(server, path, value)[0] == status
    assert (tmp_path / "marks.yaml").read_text() == "marks: 1\n"


def test_a_stranger_with_no_token_changes_nothing(server, tmp_path):
    server.token, token = "x" * len(server.token), server.token
    status = post(server, "say/0", {"mark": 3})[0]
    server.token = token
    assert status == 200  # with the token of now
    host, port = server.server_address
    connection = http.client.HTTPConnection(host, port, timeout=30)
    headers = {"Content-Type": "application/json", "Origin": f"http://{host}:{port}"}
    connection.request("POST", "/" + "x" * 24 + "/say/1", '{"mark": 3}', headers)
    assert connection.getresponse().status == 404
    assert kept(tmp_path) == {"F1": {"mark": 3}}


@pytest.fixture
def page(server, browser):
    browser.open(server.url, 1400, 900)
    at(browser, 0)
    yield browser
    assert browser.problems() == []
    browser.open("about:blank")


def at(browser, frame):
    browser.wait_for(f"document.querySelector('#stage').dataset.frame === '{frame}'")


def until_kept(folder, wanted, seconds=30):
    end = time.monotonic() + seconds
    while (found := kept(folder) or {}) != wanted:
        assert time.monotonic() < end, found
        time.sleep(0.02)


def test_a_set_is_chosen_by_keys_alone(page, tmp_path):
    page.key("4", 52)
    at(page, 1)
    page.key("Delete", 46)
    at(page, 2)
    page.key(" ", 32)
    at(page, 3)
    page.key("5", 53)
    at(page, 4)
    page.key("1", 49)
    until_kept(tmp_path, {
        "F1": {"mark": 4}, "F2": {"leave_out": True}, "F4": {"mark": 5}, "F5": {"mark": 1},
    })  # fmt: skip
    page.key("Backspace", 8)
    until_kept(tmp_path, {"F1": {"mark": 4}, "F2": {"leave_out": True}, "F4": {"mark": 5}})
    page.key("1", 49)
    for _ in range(3):
        page.key(".", 190)
    until_kept(tmp_path, {
        "F1": {"mark": 4}, "F2": {"leave_out": True}, "F4": {"mark": 5},
        "F5": {"mark": 1, "framing": {"straighten": -0.3}},
    })  # fmt: skip


def slowly(whose, name, monkeypatch):
    """Let something answer late, with what was so when it was asked."""
    at_once = getattr(whose, name)

    def late(*of):
        found = at_once(*of)
        time.sleep(0.6)
        return found

    monkeypatch.setattr(whose, name, late)


def test_a_word_right_after_an_undo_is_of_the_frame_that_it_leads_to(
    page, server, tmp_path, monkeypatch
):
    page.key("4", 52)
    at(page, 1)
    slowly(server.session, "undo", monkeypatch)
    page.key("Backspace", 8)
    page.key("5", 53)
    page.key("3", 51)
    until_kept(tmp_path, {"F1": {"mark": 5}, "F2": {"mark": 3}})


def test_no_word_is_lost_to_an_answer_from_before_it(page, tmp_path, monkeypatch):
    slowly(told, "of_all", monkeypatch)
    for _ in range(24):  # longer than the page waits until it asks again
        page.key(".", 190)
        time.sleep(0.2)
    until_kept(tmp_path, {"F1": {"framing": {"straighten": -2.4}}})


def test_after_a_word_that_was_refused_others_are_kept(browser, server, tmp_path, monkeypatch):
    browser.open(server.url, 1400, 900)
    at(browser, 0)
    session = server.session
    monkeypatch.setattr(session, "read_again", lambda: session.marks)  # as if just before it
    browser.key("4", 52)
    at(browser, 1)
    until_kept(tmp_path, {"F1": {"mark": 4}})
    save_marks(load_marks(tmp_path / "marks.yaml").stating("F2", Entry(mark=1)))
    browser.key("5", 53)
    browser.wait_for("document.querySelector('#note').textContent.includes('another program')")
    at(browser, 2)
    browser.key("3", 51)
    until_kept(tmp_path, {"F1": {"mark": 4}, "F2": {"mark": 1}, "F3": {"mark": 3}})
    browser.open("about:blank")


def test_a_page_without_its_command_says_so(browser, server):
    browser.open(server.url, 1400, 900)
    at(browser, 0)
    server.token = "x" * len(server.token)
    browser.wait_for(
        "document.querySelector('#note').textContent.startsWith('The command has ended')"
    )
    browser.open("about:blank")


def test_it_goes_on_where_one_stopped(server, browser, tmp_path):
    post(server, "say/0", {"mark": 3})
    post(server, "say/1", {"leave_out": True})
    browser.open(server.url, 1400, 900)
    at(browser, 2)
    browser.open("about:blank")


def test_a_drag_levels_and_another_crops(page, tmp_path):
    def drag(*places):
        box = page.run("""(() => {
          const {x, y, width, height} =
            document.querySelector('.current .held').getBoundingClientRect();
          return [x, y, width, height];
        })()""")
        at_ = [(box[0] + u * box[2], box[1] + v * box[3]) for u, v in places]
        page.mouse("mouseMoved", *at_[0])
        page.mouse("mousePressed", *at_[0])
        page.mouse("mouseMoved", *at_[1])
        page.mouse("mouseReleased", *at_[1])

    page.key("g", 71)
    page.wait_for("document.querySelector('#level').ariaPressed === 'true'")
    drag((0.2, 0.5), (0.8, 0.53))  # runs down to the right by about 1.9 degrees
    page.wait_for("document.querySelector('#turned').value === '1.9°'")
    page.key("c", 67)
    page.wait_for("document.querySelector('#crop').ariaPressed === 'true'")
    drag((0.1, 0.2), (0.9, 0.8))
    page.wait_for("!document.querySelector('.current .box').hidden")
    end = time.monotonic() + 30
    while "crop" not in kept(tmp_path).get("F1", {}).get("framing", {}):
        assert time.monotonic() < end
        time.sleep(0.02)
    framing = kept(tmp_path)["F1"]["framing"]
    assert framing["straighten"] == pytest.approx(1.9)
    assert framing["crop"]["left"] == pytest.approx(0.1, abs=0.01)
    assert framing["crop"]["bottom"] == pytest.approx(0.8, abs=0.01)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width, height", [(1400, 900), (390, 800)])
def test_readable_by_everyone(server, browser, scheme, width, height):
    browser.open(server.url, width, height, scheme=scheme)
    at(browser, 0)
    browser.wait_for("!document.querySelector('#progress').innerText.includes('measured')")
    browser.run("document.querySelectorAll('details').forEach((d) => { d.open = true; })")
    assert_readable(browser)
    assert browser.run("document.documentElement.scrollWidth") <= width
    browser.open("about:blank")


@pytest.mark.skipif(os.name != "posix", reason="kills a process")
def test_a_kill_loses_no_word(evening, browser, tmp_path):
    command = [sys.executable, "-m", "grading", "choose", str(evening)]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    said = {}
    for turn in range(2):
        process = subprocess.Popen(
            command, stdout=subprocess.PIPE, text=True, env=environment, cwd=Path.cwd()
        )
        browser.open(process.stdout.readline().strip(), 1400, 900)
        at(browser, 2 * turn)
        for frame in (2 * turn, 2 * turn + 1):
            browser.key(str(frame + 1), 49 + frame)
            said[f"F{frame + 1}"] = {"mark": frame + 1}
            until_kept(tmp_path, said)
        process.send_signal(signal.SIGKILL)
        process.wait(10)
    assert kept(tmp_path) == said
