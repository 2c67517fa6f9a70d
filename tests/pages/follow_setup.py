"""A followed recipe with small originals, for the tests of the follow page."""

import os
import threading
import time
from contextlib import contextmanager

import numpy as np
from PIL import Image

from grading.pages.follow.run import following

GREY = 118
"""sRGB code nearest to a grey of 0.18."""


def grey_after(stops):
    """sRGB code of that grey after so many stops of exposure (IEC 61966-2-1)."""
    light = ((GREY / 255 + 0.055) / 1.055) ** 2.4 * 2**stops
    return 255 * (1.055 * light ** (1 / 2.4) - 0.055)


def write_original(path, width=240, height=160):
    """Middle grey at the left, a saturated red in the middle, white at the right."""
    codes = np.full((height, width, 3), GREY, np.uint8)
    codes[:, width // 3 :] = (200, 20, 20)
    codes[:, 2 * width // 3 :] = 255
    Image.fromarray(codes).save(path)
    return path


def save(path, text):
    """Save as most editors do, by renaming a new file over the old one."""
    fresh = path.with_name("unsaved")
    fresh.write_text("grading: 1\n" + text)
    os.replace(fresh, path)


@contextmanager
def followed(folder, text="exposure: {stops: 0.5}\n", frames=2):
    """A server whose recipe `folder`/look.yaml is being followed."""
    originals = [write_original(folder / f"frame {i}.png") for i in range(frames)]
    recipe = folder / "look.yaml"
    save(recipe, text)
    with following(recipe, originals) as server:
        thread = threading.Thread(target=server.session.follow)
        thread.start()
        yield server
    thread.join(10)
    assert not thread.is_alive()


def until(condition, seconds=10):
    """Wait for a condition; its value."""
    end = time.monotonic() + seconds
    while not (value := condition()):
        assert time.monotonic() < end, f"not so within {seconds} s"
        time.sleep(0.005)
    return value


def contents_of(folder):
    """Bytes and time of change of every file."""
    return {
        path: (path.read_bytes(), path.stat().st_mtime_ns)
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
