"""Rows on their way: room, pieces that are ready, and an end when a band never comes."""

from concurrent.futures import ThreadPoolExecutor
from concurrent.futures import TimeoutError as NotYet

import numpy as np
import pytest

from frames_in_memory import frame, recipe, scene
from grading.engine import execute, sampling, spare
from grading.engine.execute import render
from grading.engine.passing import Need, Passing
from grading.engine.sampling import Turned
from grading.framing.view import View
from grading.region import Region

PIECES = [Region(10 * i, 10 * i + 10, 0, 5) for i in range(4)]


def passing(room=20):
    return Passing([Need(piece, piece.top, piece.bottom) for piece in PIECES], 40, room)


def test_a_piece_is_given_once_when_all_its_rows_are_there():
    rows = passing()
    rows.came(8, 24)
    assert list(rows.ready()) == [], "the first rows are missing"
    rows.came(0, 8)
    assert list(rows.ready()) == PIECES[:2]
    assert list(rows.ready()) == []


def test_what_is_left_when_all_rows_are_there_can_be_shared_out():
    rows = passing()
    rows.came(0, 15)
    assert list(rows.ready()) == PIECES[:1]
    rows.came(15, 40)
    assert list(rows.ready()) == []
    assert rows.rest() == PIECES[1:]


def test_rows_wait_until_those_whose_room_they_take_are_done_with():
    rows = passing()
    rows.wait_for_room(20)
    with ThreadPoolExecutor(1) as pool:
        waiting = pool.submit(rows.wait_for_room, 21)
        rows.came(0, 20)
        pieces = rows.ready()
        next(pieces)
        with pytest.raises(NotYet):
            waiting.result(timeout=0.1)
        next(pieces)  # so the first is made
        assert waiting.result(timeout=60) is None
        waiting = pool.submit(rows.wait_for_room, 40)
        rows.give_up(OSError("the card is gone"))
        with pytest.raises(OSError, match="the card is gone"):
            waiting.result(timeout=60)


@pytest.fixture
def small_parts(monkeypatch):
    monkeypatch.setattr(execute, "TILE", (16, 60))
    monkeypatch.setattr(sampling, "PIECE", (32, 48))


def test_a_frame_that_cannot_be_read_to_its_end_is_an_error_that_ends_all(small_parts):
    original = frame(scene(400, 120))
    read = original.pixels.read

    def fails(region):
        if region.top >= 48:
            raise OSError("no more of it")
        return read(region)

    original.pixels.read = fails
    for workers in (1, 4):
        with pytest.raises(OSError, match="no more of it"):
            render(original, recipe(framing={"straighten": 3.0}), workers=workers)


def test_a_turned_picture_has_room_for_some_of_its_rows_and_the_same_bits(small_parts):
    original, look = frame(scene(400, 120)), recipe(framing={"straighten": 3.0})
    one, many = (render(original, look, workers=n).array for n in (1, 4))
    np.testing.assert_array_equal(one, many)
    view = View(120, 400, straighten=3.0)
    some, every = (Turned(view, *view.size, ahead=rows) for rows in (32, 400))
    assert some.light.nbytes < 0.4 * every.light.nbytes


def test_room_of_a_finished_picture_serves_the_next(small_parts, monkeypatch):
    monkeypatch.setattr(spare, "_SPARE", [])
    original, look = frame(scene(400, 120)), recipe(framing={"straighten": 3.0})
    first = render(original, look).array
    (memory,) = spare._SPARE
    memory[:] = np.nan  # nothing of what it held is read
    np.testing.assert_array_equal(render(original, look).array, first)
    assert len(spare._SPARE) == 1 and np.shares_memory(spare._SPARE[0], memory)


def test_too_little_room_is_let_go(monkeypatch):
    monkeypatch.setattr(spare, "_SPARE", [np.empty(8, np.float32), np.empty(4, np.float32)])
    assert spare.take(6).size == 6 and spare._SPARE == []
