"""The light of the patches, and photographs that are refused."""

from dataclasses import replace

import numpy as np
import pytest

from calibrate.photographs import Photograph, Pose, chart_in, seen_by_camera
from grading.calibrate.chart import reference
from grading.calibrate.patches import read_patches
from grading.errors import OriginalError
from grading.frame import Frame

SHOT = Photograph()


def read(photograph):
    frame = chart_in(photograph, samples=2)
    return read_patches(frame, photograph.pose.place(photograph.size[1]))


def expected(white=SHOT.white):
    """Camera light of the patches by themselves."""
    return white * seen_by_camera(reference().xyz)[0]


def refusal(photograph):
    with pytest.raises(OriginalError) as caught:
        read(photograph)
    return str(caught.value)


def test_each_patch_reads_its_own_light():
    assert read(SHOT) == pytest.approx(expected(), rel=1e-4)


@pytest.mark.parametrize("pose", [Pose(turn=35, width=0.4), Pose(tilt=(30, 20)), Pose(width=0.2)])
@pytest.mark.parametrize("size", [(400, 600), (700, 1050)])
def test_it_is_the_same_at_any_pose_and_size(pose, size):
    assert read(Photograph(pose, size)) == pytest.approx(expected(), rel=1e-3)


def test_noise_averages_out():
    noisy = read(replace(SHOT, noise=1e-4))
    assert noisy == pytest.approx(expected(), rel=0.01)


def test_dust_and_glints_are_left_out():
    frame = chart_in(SHOT, samples=2)
    place = SHOT.pose.place(600)
    clean = read_patches(frame, place)
    x, y = (place @ (3.1, 1.1, 1))[:2].astype(int)
    frame.pixels.planes[:, y - 2 : y + 3, x - 2 : x + 3] = 0.9
    assert read_patches(frame, place) == pytest.approx(clean, rel=0.01)


def test_a_small_chart_is_refused():
    assert refusal(Photograph(Pose(width=0.1))) == (
        "in-memory: the chart is too small: 10 pixels from one patch to the next; allowed: 16 or "
        "more; photograph it from nearer, and do not shrink the frame"
    )


def test_a_chart_that_is_not_all_in_the_frame_is_refused():
    assert refusal(Photograph(Pose((0.2, 0.33)))) == (
        "in-memory: the chart is not all in the frame; photograph it with some room around"
    )


def test_clipped_patches_are_refused():
    words = refusal(replace(SHOT, white=1.2))
    assert words == (
        "in-memory: 1 of 24 patches are clipped; allowed: no patch at 0.98 of the white level or "
        "above; expose less"
    )
    assert "clipped" not in str(read(replace(SHOT, white=1.05)))


def test_a_dark_chart_is_refused():
    assert refusal(replace(SHOT, white=0.03)) == (
        "in-memory: the chart is too dark: its white patch reads 0.0263 of the white level; "
        "allowed: 0.031 or more; expose more"
    )


def test_a_chart_out_of_focus_is_refused_before_its_colours_mix():
    """The pitch is 60 pixels. What passes has its colours within a hundredth."""
    for blur in (1.0, 2.0, 3.0, 4.0):
        assert read(replace(SHOT, blur=blur)) == pytest.approx(expected(), rel=0.01, abs=2e-3)
    for blur in (8.0, 12.0):
        words = refusal(replace(SHOT, blur=blur))
        assert "the chart is out of focus" in words
        assert words.endswith("focus on the chart, or photograph it from nearer")


def test_a_frame_at_reduced_size_is_read_like_the_whole():
    """A chart in many pixels is read from block means."""
    large = Photograph(Pose(width=0.9), (600, 900))
    frame = chart_in(large, samples=1)

    class Unread:
        """Pixels that only give block means."""

        def __init__(self, pixels):
            self.height, self.width, self.reduced = pixels.height, pixels.width, pixels.reduced

    means = Frame(frame.facts, Unread(frame.pixels))
    assert read_patches(means, large.pose.place(900)) == pytest.approx(expected(), rel=1e-3)
    assert np.isfinite(read_patches(frame, large.pose.place(900))).all()
