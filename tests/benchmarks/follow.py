"""How long from a save of the recipe to the new picture in the browser.

Run ``python tests/benchmarks/follow.py``. A 24 Mpx raw is made, followed at its preview size, and
its recipe saved again and again by renaming a new file over it, as editors do. The clock runs from
`os.replace` to the frame in which the browser paints the new picture, or, where there is no
Chromium, to the last byte of the picture at an HTTP client. The same is timed of a window onto the
picture at its full size, and of moves of that window.
"""

import json
import os
import statistics
import sys
import tempfile
import threading
import time
import urllib.request
from contextlib import closing
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT / "demo_images"), str(ROOT / "tests")]

from browser import CHROMIUM, Browser
from dng import mosaic_of, write_dng
from grading.colour import spaces
from grading.pages.follow.run import following

RECIPES = {
    "plain": "exposure: {{stops: {0}}}\n",
    "full": (
        "exposure: {{stops: {0}}}\nlift: {{shadows: 0.6, highlights: -0.5}}\n"
        "tone_curve: {{contrast: 1.3, shoulder: 0.4}}\n"
        "split_toning: {{shadows: {{hue: 5PB, chroma: 0.02}}}}\n"
        "hues: {{leaves: {{centre: 5GY, width: 60, saturation: -0.2}}}}\n"
        "local: {{sky: {{where: {{gradient: {{full: [0.5, 0], none: [0.5, 0.6]}}}},"
        " exposure: {{stops: -0.5}}}}}}\n"
    ),
}
SAVES = 15

OBSERVE = """
window.painted = {};
new MutationObserver(() => {
  const version = document.querySelector('#shown').dataset.version;
  requestAnimationFrame(() => setTimeout(() => {
    window.painted[version] ??= performance.timeOrigin + performance.now();
  }));
}).observe(document.querySelector('#picture'), {childList: true});
"""


def make_raw(path, width=6000, height=4000):
    """A raw with soft shapes, a range of eight stops, and noise."""
    rng = np.random.default_rng(1)
    x, y = np.linspace(0, 9, width), np.linspace(0, 6, height)[:, None]
    light = np.exp2(-4 + 4 * np.sin(x) * np.cos(y))
    rgb = np.stack([light, light * (1.2 + 0.4 * np.sin(2 * x)), light * 0.8], axis=-1)
    codes = 512 + 6000 * rgb + rng.normal(0, 12, rgb.shape)
    mosaic = mosaic_of(np.clip(codes, 0, 16383).astype(np.uint16))
    matrix = np.array([[0.9, -0.3, -0.1], [-0.4, 1.2, 0.2], [-0.1, 0.2, 0.6]])
    neutral = matrix @ spaces.xy_to_xyz(spaces.D65)
    write_dng(
        path, mosaic, white=16383, black=(512,) * 4, color_matrix1=matrix,
        illuminant1="D65", as_shot_neutral=neutral / neutral.max(),
    )  # fmt: skip


def save(path, text):
    """Save as editors do; the time of day at which the new content stands."""
    fresh = path.with_suffix(".new")
    fresh.write_text(text)
    os.replace(fresh, path)
    return time.time()


def in_browser(server, recipe, text):
    """Milliseconds of each save, to paint."""
    with (
        tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile,
        closing(Browser(profile)) as page,
    ):
        page.open(server.url)
        page.wait_for("document.querySelector('#shown').dataset.version", 60)
        page.run(OBSERVE)
        for i in range(SAVES + 3):
            version = server.session.state.latest.number + 1
            start = save(recipe, text.format(i / 50))
            yield page.wait_for(f"window.painted[{version}]") - 1000 * start
            time.sleep(0.1)


def at_client(server, recipe, text):
    """Milliseconds of each save, to the last byte."""
    with urllib.request.urlopen(server.url + "events") as stream:
        heard(stream)
        for i in range(SAVES + 3):
            start = save(recipe, text.format(i / 50))
            version = heard(stream)["version"]
            urllib.request.urlopen(f"{server.url}picture/0/{version}").read()
            yield 1000 * (time.time() - start)
            time.sleep(0.1)


def at_full_size(server, recipe, text):
    """Milliseconds of each save, to the last byte of 1600 x 1000 pixels of the original's size."""
    with urllib.request.urlopen(server.url + "events") as stream:
        heard(stream)
        for i in range(SAVES + 3):
            start = save(recipe, text.format(i / 50))
            version = heard(stream)["version"]
            urllib.request.urlopen(f"{server.url}window/0/{version}/2000/1500/1600/1000").read()
            yield 1000 * (time.time() - start)
            time.sleep(0.1)


def moved(server, recipe, text):
    """Milliseconds of each move of that window."""
    version = server.session.state.latest.number
    for i in range(SAVES + 3):
        start = time.time()
        place = f"{1000 + 100 * i}/{1000 + 50 * i}/1600/1000"
        urllib.request.urlopen(f"{server.url}window/0/{version}/{place}").read()
        yield 1000 * (time.time() - start)


def heard(stream):
    """The next event."""
    line = next(line for line in stream if line.startswith(b"data: "))
    return json.loads(line.removeprefix(b"data: "))


def main():
    """Print a line for each way of measuring and each recipe; the first three saves warm up."""
    with tempfile.TemporaryDirectory() as folder:
        raw, recipe = Path(folder, "frame.dng"), Path(folder, "look.yaml")
        make_raw(raw)
        for name, text in RECIPES.items():
            text = "grading: 1\n" + text
            save(recipe, text.format(1))
            for measure in [at_client, at_full_size, moved] + [in_browser] * bool(CHROMIUM):
                with following(recipe, [raw]) as server:
                    threading.Thread(target=server.session.follow, daemon=True).start()
                    times = sorted(list(measure(server, recipe, text))[3:])
                    print(
                        f"{name:6} {measure.__name__:12} median {statistics.median(times):4.0f} ms,"
                        f" quickest {times[0]:4.0f}, slowest {times[-1]:4.0f}"
                    )


if __name__ == "__main__":
    main()
