import numpy as np
import pytest
import yaml
from scipy.ndimage import gaussian_filter

from grading.inspect.lean import find_lean
from grading.inspect.measure import measure
from grading.inspect.upright import agree
from grading.inspect.upright_lines import Line, find_lines
from inspect_frames import blurred, noise_at, path, shot, town, turned
from truth.textures import HELD_BACK, TUNED


def line(lean, column, number, bar=False):
    """A line of 60 rows, each at a height of its own."""
    top = 40.0 * (7 * number % 5)
    return Line(lean, 0.1, column, column, top, top + 60, bar)


def lean_of(light, seed=1, iso=200):
    return measure(shot(light, seed, iso)).lean


def test_a_lean_is_within_a_third_of_a_degree_or_not_said():
    rng, off = np.random.default_rng(1), []
    for seed in range(40):
        roll, iso = rng.uniform(-5, 5), int(rng.choice([100, 400, 1600, 6400]))
        light = town(seed, roll=roll, convergence=rng.normal(0, 1))
        if seed % 4 == 0:
            light = blurred(light, path(rng.uniform(6, 18), rng.uniform(0, 180)))
        if lean := lean_of(light, seed, iso):
            off.append(lean.straighten - roll)
    assert len(off) >= 12
    assert np.abs(off).max() < 0.3
    assert np.median(np.abs(off)) < 0.1


@pytest.mark.parametrize("name", [n for n in (*TUNED, *HELD_BACK) if n not in ("skyline", "brick")])
def test_nothing_is_said_where_nothing_is_upright(name):
    every = {**TUNED, **HELD_BACK}
    light = turned(every[name](480, np.random.default_rng(2)), 3)
    assert lean_of(light) is None


def test_a_picture_turned_clockwise_is_to_be_turned_back_anticlockwise():
    light = np.full((400, 600), 0.3)
    for number, column in enumerate(range(40, 600, 60)):
        top = 30 + 160 * (number % 2)
        light[top : top + 120, column : column + 20] = 0.1
    lean = lean_of(turned(light, 2.0))
    assert lean.straighten == pytest.approx(2.0, abs=0.1)


def test_lines_that_converge_tell_the_lean_at_the_middle():
    columns = np.linspace(-0.9, 0.7, 12)
    walls = [line(1.0 + 1.8 * x, x, n) for n, x in enumerate(columns)]
    assert agree(walls).straighten == pytest.approx(-1.0, abs=0.1)


def test_lines_of_two_minds_say_nothing():
    columns = np.linspace(-0.9, 0.9, 8)
    lines = [line(lean, x, n) for n, x in enumerate(columns) for lean in (-1.5, 1.5)]
    assert agree(lines) is None


def test_lines_at_one_place_say_nothing():
    assert agree([line(1.0, 0.5 + 0.001 * n, n) for n in range(20)]) is None


def test_pieces_of_a_few_posts_say_nothing():
    posts = np.repeat([-0.8, -0.3, 0.0, 0.4, 0.7], 6)
    assert agree([line(4.0, x, n) for n, x in enumerate(posts)]) is None


def test_what_is_thin_does_not_count_by_itself():
    columns = np.linspace(-0.9, 0.9, 14)
    masts = [line(4.0, x, n, bar=True) for n, x in enumerate(columns)]
    walls = [line(4.0, x, n) for n, x in enumerate(columns)]
    assert agree(masts) is None
    assert agree(masts[4:] + walls[:4]) is None
    assert agree(masts[8:] + walls[:8]).straighten == pytest.approx(-4.0, abs=0.1)


def test_what_stands_in_one_row_says_nothing():
    columns = np.linspace(-0.9, 0.9, 14)
    panes = [Line(4.0, 0.1, x, x, 100 + 30 * x, 160 + 30 * x) for x in columns]
    house = [line(4.0, x, n) for n, x in enumerate(columns)]
    assert agree(panes) is None
    assert agree(house).straighten == pytest.approx(-4.0, abs=0.1)


def test_poles_are_bars_and_walls_are_not():
    light = np.full((400, 600), 0.3, np.float32)
    for column in range(60, 300, 60):
        light[60:340, column : column + 4] = 0.05
    light[60:340, 360:] = 0.05
    bars = {round(300 + 300 * line.place): line.bar for line in find_lines(light, noise_at(100))}
    assert bars[360] is False
    assert sum(bars.values()) == len(bars) - 1 == 8


def test_reeds_that_lean_alike_say_nothing():
    stems = np.random.default_rng(5).normal(0.3, 0.1, 600).clip(0.05)
    light = np.tile(gaussian_filter(stems, 0.7), (400, 1))
    assert lean_of(turned(light, 4)) is None


def test_frames_too_small_or_empty_say_nothing():
    noise = noise_at(100)
    assert find_lean(np.full((40, 60), 0.2, np.float32), noise) is None
    assert find_lean(np.full((200, 300), 0.2, np.float32), noise) is None
    assert find_lean(np.zeros((200, 300), np.float32), noise) is None


def test_of_the_demo_set_only_what_is_right_is_said(demo_leans):
    said = {name: (lean, roll) for name, (lean, roll) in demo_leans.items() if lean}
    assert said
    for lean, roll in said.values():
        assert lean.straighten == pytest.approx(roll, abs=0.3)


@pytest.fixture(scope="module")
def demo_leans():
    from pathlib import Path

    import make_demo
    from grading.files.originals import open_frame

    folder = Path(make_demo.__file__).parent
    truth = yaml.safe_load((folder / "harbour_truth.yaml").read_text())
    return {
        each["file"]: (measure(open_frame(folder / each["file"])).lean, each["roll_degrees"])
        for each in truth
    }
