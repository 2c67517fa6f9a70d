"""Our numbers of lenses against what the database itself does to pixels and places.

Cameras and lenses are taken from the database as it is, by chance, so none is named here.
"""

from collections import Counter

import numpy as np
import pytest

from grading.frame import Capture
from grading.lens.database import FAR, known_lens

lensfunpy = pytest.importorskip("lensfunpy")
WIDTH, HEIGHT = 300, 200


@pytest.fixture(scope="module")
def pairs():
    """Some hundred lenses, each with a camera that it fits and was measured on or on a smaller."""
    database = lensfunpy.Database()
    names = Counter(lens.model for lens in database.lenses)
    alone = [lens for lens in database.lenses if names[lens.model] == 1]
    chosen = np.random.default_rng(5).choice(len(alone), 150, replace=False)
    found = []
    for lens in (alone[i] for i in chosen):
        fit = [c for c in database.cameras
               if c.mount in lens.mounts and c.crop_factor >= lens.crop_factor]  # fmt: skip
        if fit:
            found.append((fit[0], lens))
    return found


def capture_of(camera, lens):
    aperture = lens.min_aperture or 4.0
    return Capture(camera.maker, camera.model, lens.model, aperture=aperture,
                   focal_length=lens.min_focal)  # fmt: skip


def known(pairs):
    """What is known of those that are found, with the camera and the lens."""
    for camera, lens in pairs:
        capture = capture_of(camera, lens)
        found = known_lens(capture, WIDTH, HEIGHT)
        if found is not None and found.name == lens.model:
            yield camera, lens, capture, found.optics


def modifier(camera, lens, capture, flag):
    made = lensfunpy.Modifier(lens, camera.crop_factor, WIDTH, HEIGHT)
    made.initialize(capture.focal_length, capture.aperture, FAR, scale=1.0,
                    pixel_format=np.float32, flags=flag)  # fmt: skip
    return made


def places():
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH] + 0.5
    return x, y


def test_most_lenses_are_found_by_their_own_names(pairs):
    found = [known_lens(capture_of(*pair), WIDTH, HEIGHT) for pair in pairs]
    assert np.mean([each is not None for each in found]) > 0.6


def test_distortion_is_the_databases_own(pairs):
    count = 0
    for camera, lens, capture, optics in known(pairs):
        if optics.distortion:
            flag = lensfunpy.ModifyFlags.DISTORTION
            made = modifier(camera, lens, capture, flag)
            for x, y in zip(range(0, WIDTH, 29), range(0, HEIGHT, 19), strict=False):
                theirs = np.ravel(made.apply_geometry_distortion(x, y, 1, 1))  # more are rounded
                ours = optics.distortion.to_frame(x + 0.5, y + 0.5, WIDTH, HEIGHT)
                np.testing.assert_allclose(ours, theirs + 0.5, atol=0.02)
            count += 1
    assert count > 40


def test_lateral_colour_is_the_databases_own(pairs):
    count = 0
    for camera, lens, capture, optics in known(pairs):
        if optics.red:
            flag = lensfunpy.ModifyFlags.TCA
            theirs = modifier(camera, lens, capture, flag).apply_subpixel_distortion()
            for channel, warp in ((0, optics.red), (2, optics.blue)):
                ours = np.stack(warp.to_frame(*places(), WIDTH, HEIGHT), -1)
                np.testing.assert_allclose(ours, theirs[:, :, channel] + 0.5, atol=0.03)
            count += 1
    assert count > 30


def test_vignetting_is_the_databases_own(pairs):
    count = 0
    for camera, lens, capture, optics in known(pairs):
        if optics.falloff:
            light = np.ones((HEIGHT, WIDTH, 3), np.float32)
            flag = lensfunpy.ModifyFlags.VIGNETTING
            modifier(camera, lens, capture, flag).apply_color_modification(light)
            x, y = places()
            radius = np.hypot(x - WIDTH / 2, y - HEIGHT / 2) / (optics.falloff.unit * WIDTH)
            ours = optics.falloff.correction(radius)
            np.testing.assert_allclose(light[..., 0], ours, rtol=2e-3)
            count += 1
    assert count > 10


@pytest.mark.parametrize(
    "change",
    [{"make": "Nobody"}, {"model": "Nothing 1"}, {"lens": "24.0-105.0 mm"}, {"lens": "Odd 9 mm"},
     {"focal_length": None}],
)  # fmt: skip
def test_what_is_not_known_for_sure_is_not_known(pairs, change):
    for camera, lens in pairs[:20]:
        capture = Capture(**vars(capture_of(camera, lens)) | change)
        assert known_lens(capture, WIDTH, HEIGHT) is None
