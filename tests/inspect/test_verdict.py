"""Forty labelled frames: what is wrong with them is found, and nothing else."""

from dataclasses import replace

import numpy as np
import pytest

from grading.inspect.measure import measure
from grading.inspect.series import find_series
from grading.inspect.verdict import notes, verdicts
from inspect_frames import shot, town
from labelled_frames import labelled_set


@pytest.fixture(scope="module")
def judged():
    frames, labels = [], []
    for frame, label in labelled_set(lambda number: town(7000 + number), 7):
        frames.append(measure(frame))
        labels.append(label)
    return frames, labels, verdicts(frames)


def test_each_technical_reject_is_found_and_no_other_frame(judged):
    _, labels, said = judged
    words = [[verdict.word for verdict in found] for found in said]
    assert words == [[label.word] if label.word else [] for label in labels]


def test_a_reject_says_its_number(judged):
    assert all(any(c.isdigit() for c in each.why) for found in judged[2] for each in found)


def test_shakes_have_their_angle_and_length(judged):
    for frame, label, _ in zip(*judged, strict=True):
        if label.word == "shaken":
            assert abs((frame.blur.angle - label.angle + 90) % 180 - 90) < 5
            assert frame.blur.size == pytest.approx(label.length, rel=0.15)


def test_leans_are_right_or_not_said(judged):
    off = [f.lean.straighten - label.roll for f, label, _ in zip(*judged, strict=True) if f.lean]
    assert len(off) >= 10
    assert np.abs(off).max() < 0.3


def test_each_burst_is_found_with_its_sharpest(judged):
    frames, labels, said = judged
    found = {each.frames: each for each in find_series(frames, [bool(each) for each in said])}
    for burst in {label.burst for label in labels if label.burst}:
        assert found[burst].kind == "burst"
        blurs = {n: labels[n].blur for n in burst}
        assert blurs[found[burst].best] < min(blurs.values()) + 0.2


def test_one_frame_alone_is_judged_by_itself():
    assert verdicts([measure(shot(town(1), 1))]) == [[]]
    assert [v.word for v in verdicts([measure(shot(town(1), 1, stops=-4.5))])[0]] == [
        "underexposed"
    ]


def test_the_rule_of_thumb_is_a_note_and_no_verdict():
    frame = measure(shot(town(1), 1))
    slow = replace(frame, capture=replace(frame.capture, shutter=1 / 15))
    assert verdicts([slow]) == [[]]
    assert "open longer than the rule of thumb" in notes(slow)[0]
    fast = replace(frame, capture=replace(frame.capture, shutter=1 / 250))
    assert notes(fast) == []
