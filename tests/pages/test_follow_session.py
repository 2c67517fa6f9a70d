"""A recipe followed through saves, errors and the ways in which editors write."""

import os
import threading
import time
from concurrent.futures import ThreadPoolExecutor

import pytest

from grading.errors import RecipeError
from grading.pages.follow.cache import Closed, ResultCache
from grading.pages.follow.run import following
from grading.pages.follow.watch import GRACE, changed, contents, files_of
from grading.recipe.inheritance import looks_folder
from pages.follow_setup import followed, grey_after, save, until, write_original


def grey(server, index=0):
    """Green code of the middle grey, as the latest look shows it."""
    version = server.session.state.latest.number
    return server.session.rendering(index, version).picture.array[:, :60, 1].mean()


def about(stops):
    return pytest.approx(grey_after(stops), abs=0.6)


def versions(server, version):
    return until(lambda: server.session.state.latest.number == version)


def test_each_save_is_shown(tmp_path):
    """By so many stops, in codes of sRGB."""
    with followed(tmp_path, "exposure: {stops: 0}\n") as server:
        assert grey(server) == about(0)
        save(tmp_path / "look.yaml", "exposure: {stops: 1}\n")
        versions(server, 2)
        assert grey(server) == about(1)
        save(tmp_path / "look.yaml", "exposure: {stops: -1}\n")
        versions(server, 3)
        assert grey(server) == about(-1)


def test_before_is_the_frame_without_the_recipe(tmp_path):
    with followed(tmp_path, "exposure: {stops: 2}\n") as server:
        before = server.session.rendering(0, 0)
        assert before.picture.array[:, :60].mean() == about(0)


def test_what_a_recipe_extends_is_followed(tmp_path):
    save(tmp_path / "base.yaml", "exposure: {stops: 0}\n")
    save(tmp_path / "middle.yaml", "extends: base.yaml\n")
    with followed(tmp_path, "extends: middle.yaml\n") as server:
        save(tmp_path / "base.yaml", "exposure: {stops: 1}\n")
        versions(server, 2)
        assert grey(server) == about(1)
        save(tmp_path / "other.yaml", "exposure: {stops: -1}\n")
        save(tmp_path / "middle.yaml", "extends: other.yaml\n")
        versions(server, 3)
        assert grey(server) == about(-1)


def test_error_is_reported_and_the_last_look_stays(tmp_path):
    with followed(tmp_path, "exposure: {stops: 1}\n") as server:
        save(tmp_path / "look.yaml", "exposure: {stops: 1\n")
        error = until(lambda: server.session.state.error)
        assert error.startswith(f"{tmp_path / 'look.yaml'}:2:11: ")
        assert grey(server) == about(1)
        save(tmp_path / "look.yaml", "exposure: {stops: -1}\n")
        versions(server, 2)
        assert server.session.state.error is None
        assert grey(server) == about(-1)


def test_missing_parent_is_awaited(tmp_path):
    with followed(tmp_path, "extends: base.yaml\n") as server:
        assert "there is no such file" in server.session.state.error
        save(tmp_path / "base.yaml", "exposure: {stops: 1}\n")
        versions(server, 1)
        assert server.session.state.error is None


def test_half_a_save_is_no_error(tmp_path):
    """Editors that empty the file first, or take it away, finish well within the grace."""
    recipe = tmp_path / "look.yaml"
    with followed(tmp_path) as server:
        numbers = []
        waiting = threading.Thread(target=lambda: numbers.append(server.session.wait(1, 5).number))
        waiting.start()
        recipe.write_text("")
        time.sleep(GRACE / 3)
        recipe.unlink()
        time.sleep(GRACE / 3)
        save(recipe, "title: Whole\n")
        waiting.join()
        assert server.session.state.error is None
        assert server.session.state.latest.shown.title == "Whole"
        assert numbers == [2]


def test_recipe_that_does_not_exist_is_refused(tmp_path):
    frame = write_original(tmp_path / "frame.png")
    with pytest.raises(RecipeError, match="no such file"):
        following(tmp_path / "none.yaml", [frame]).__enter__()
    with pytest.raises(RecipeError, match="no look named"):
        following("nosuchlook", [frame]).__enter__()


def test_files_of_a_chain(tmp_path):
    save(tmp_path / "a.yaml", "extends: sub/b.yaml\n")
    (tmp_path / "sub").mkdir()
    cameras = "white_balance: {cameras: [e.yaml, ../f.yaml]}\n"
    save(tmp_path / "sub/b.yaml", "extends: c.yaml\ncdl: {file: d.cc}\n" + cameras)
    names = ["a.yaml", "sub/b.yaml", "sub/c.yaml", "sub/d.cc", "sub/e.yaml", "sub/../f.yaml"]
    assert files_of(tmp_path / "a.yaml") == [tmp_path / name for name in names]


def test_files_of_a_name(tmp_path):
    """Beside the recipe first, also before there is such a file."""
    path, beside = tmp_path / "a.yaml", [tmp_path / "evenlight.yaml", tmp_path / "evenlight.yml"]
    save(path, "extends: evenlight\n")
    look = looks_folder() / "evenlight.yaml"
    assert files_of(path) == [path, look, *beside]
    save(beside[1], "exposure: {stops: 0}\n")
    assert files_of(path) == [path, beside[1], beside[0]]
    save(path, "extends: nowhere\n")
    assert tmp_path / "nowhere.yaml" in files_of(path)


def test_a_pipe_is_not_waited_for(tmp_path):
    os.mkfifo(tmp_path / "pipe.yaml")
    assert contents([tmp_path / "pipe.yaml"]) == {tmp_path / "pipe.yaml": None}
    save(tmp_path / "a.yaml", "extends: pipe.yaml\n")
    assert files_of(tmp_path / "a.yaml") == [tmp_path / "a.yaml", tmp_path / "pipe.yaml"]


def test_files_of_a_circle(tmp_path):
    save(tmp_path / "a.yaml", "extends: b.yaml\n")
    save(tmp_path / "b.yaml", "extends: a.yaml\n")
    assert files_of(tmp_path / "a.yaml") == [tmp_path / "a.yaml", tmp_path / "b.yaml"]


NO_RECIPES = [
    "", "- a\n", "extends: [\n", "extends: 3\n", "cdl: 5\n", "white_balance: [cameras]\n",
    "white_balance: {cameras: 3}\n",
]  # fmt: skip


@pytest.mark.parametrize("text", NO_RECIPES)
def test_files_of_what_is_no_recipe(tmp_path, text):
    path = tmp_path / "a.yaml"
    path.write_text(text)
    assert files_of(path) == [path]


def in_place(path):
    """The same size and, as on a coarse clock, the same time."""
    stamp = path.stat().st_mtime_ns
    path.write_text("exposure: {stops: 2}")
    os.utime(path, ns=(stamp, stamp))


def by_rename(path):
    fresh = path.with_name("fresh")
    fresh.write_text("exposure: {stops: 2}")
    os.replace(fresh, path)


def by_link(path):
    target = path.with_name("target")
    target.write_text("exposure: {stops: 2}")
    path.unlink()
    path.symlink_to(target)


@pytest.mark.parametrize("way", [in_place, by_rename, by_link, lambda path: path.unlink()])
def test_every_way_of_saving_is_seen(tmp_path, way):
    path = tmp_path / "look.yaml"
    path.write_text("exposure: {stops: 1}")
    seen, stopped = contents([path]), threading.Event()
    assert not changed(seen, 0.05, stopped)
    way(path)
    assert changed(seen, 0.05, stopped)


def test_cache_makes_once_and_forgets_the_oldest():
    made = []

    def make(key):
        made.append(key)
        if key == "bad":
            raise KeyError(key)
        return key * 2

    cache = ResultCache(make, 2)
    cache.begin(1)
    assert [cache.get(key) for key in (1, 2, 1, 3, 1)] == [2, 4, 2, 6, 2]
    assert made == [1, 2, 3]
    assert cache.get(2) == 4
    assert made == [1, 2, 3, 2]
    for _ in range(2):
        with pytest.raises(KeyError):
            cache.get("bad")
    assert made[-2:] == ["bad", "bad"]
    cache.close()


def test_a_cache_that_is_closed_computes_nothing_more():
    """A page may ask on while the command ends."""
    begun, go = threading.Event(), threading.Event()

    def make(key):
        begun.set()
        assert go.wait(30)
        return key

    cache = ResultCache(make, 4)
    with ThreadPoolExecutor(2) as askers:
        first = askers.submit(cache.get, 1)
        assert begun.wait(30)
        second = askers.submit(cache.get, 2)
        while len(cache._futures) < 2:
            time.sleep(0.001)
        closing = threading.Thread(target=cache.close)
        closing.start()
        with pytest.raises(Closed):
            second.result(30)
        go.set()
        assert first.result(30) == 1
        closing.join(30)
    for ask in (cache.get, cache.begin):
        with pytest.raises(Closed):
            ask(3)
