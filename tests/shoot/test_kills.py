"""Runs killed at every step and at any time: nothing is partial, nothing bars the way."""

import os
import random
import signal
import subprocess
import sys
import time
from contextlib import suppress

import pytest

from grading.engine.output import Output
from grading.errors import OutputError
from grading.files import sidecar
from grading.files.atomic import remove_leftovers
from grading.shoot.deliver import write
from grading.shoot.earlier import earlier_output
from grading.shoot.verify import verify_folder
from planning import planned

pytestmark = pytest.mark.skipif(os.name == "nt", reason="signals and processes of POSIX")

STEPS = ("open", "fsync", "link", "replace", "unlink")


def _write_until_killed(path, delivery, overwrite, step):
    """Write in a process of its own that kills itself before the given system call; was it?"""
    child = os.fork()
    if child:
        return os.WIFSIGNALED(os.waitpid(child, 0)[1])
    count = 0

    def counted(call):
        def run(*arguments, **settings):
            nonlocal count
            if count == step:
                os.kill(os.getpid(), signal.SIGKILL)
            count += 1
            return call(*arguments, **settings)

        return run

    try:
        for name in STEPS:
            setattr(os, name, counted(getattr(os, name)))
        write(path, *delivery, overwrite)
    finally:
        os._exit(0)


def _delivery(path, content, earlier):
    record = earlier(path, content)
    path.unlink()
    sidecar.sidecar_path(path).unlink()
    return content, record


@pytest.mark.parametrize("replacing", [False, True])
def test_a_kill_before_every_step(tmp_path, earlier, replacing):
    path = tmp_path / "a.jpg"
    first, second = (_delivery(path, content, earlier) for content in (b"first", b"second"))
    killed = 0
    for step in range(100):
        for left in tmp_path.iterdir():
            left.unlink()
        if replacing:
            write(path, *first)
        if not _write_until_killed(path, second, replacing, step):
            break
        killed += 1
        remove_leftovers(tmp_path)
        assert {left.name for left in tmp_path.iterdir()} <= {"a.jpg", "a.jpg.yaml"}
        content = path.read_bytes() if path.exists() else None
        assert content in ((b"first", b"second") if replacing else (None, b"second"))
        found = earlier_output(path)
        assert replacing or content is None or found.whole
        (job,) = planned({tmp_path / "a.dng": None}, tmp_path, Output(), True) or [None]
        if found and not found.whole and not replacing:  # --keep alone goes on
            (job,) = planned({tmp_path / "a.dng": None}, tmp_path, Output(), False, lambda *_: None)
        write(job.targets[0].path, *second, replacing or bool(content))
        assert path.read_bytes() == b"second" and earlier_output(path).whole
    assert killed >= 7  # two files opened and flushed, named, and the folder flushed twice


def test_a_persons_file_that_appears_between_the_two_is_left(tmp_path, earlier, monkeypatch):
    path = tmp_path / "a.jpg"
    delivery = _delivery(path, b"ours", earlier)
    link = os.link

    def be_overtaken(source, target):
        if target.suffix != ".yaml":
            path.write_bytes(b"theirs")
        link(source, target)

    monkeypatch.setattr(os, "link", be_overtaken)
    with pytest.raises(OutputError, match="a.jpg: the output exists already"):
        write(path, *delivery)
    assert [left.name for left in tmp_path.iterdir()] == ["a.jpg"]
    assert path.read_bytes() == b"theirs"


@pytest.mark.slow
@pytest.mark.parametrize("replacing", [False, True])
def test_kills_at_any_time(tmp_path, make_original, recipe_file, replacing):
    """Each time the same command goes on; in the end all is as if nothing had happened."""
    rng = random.Random(replacing)
    folder, out = tmp_path / "in", tmp_path / "out"
    for i in range(24):
        make_original(folder / f"{i}.png", 300, 200, seed=i)
    command = [sys.executable, "-m", "grading", "render", recipe_file, folder, "--out", out]
    if replacing:
        subprocess.run(command, check=True, capture_output=True)
        recipe_file.write_text(recipe_file.read_text().replace("stops: 0.3", "stops: 0.5"))
    command += ["--keep", *(["--overwrite"] if replacing else [])]
    kills = 0
    for _ in range(60):
        stands = set(out.glob("*.yaml")) if out.exists() else set()
        run = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
        with suppress(subprocess.TimeoutExpired):
            run.wait(0.8)
        deadline = time.monotonic() + 60
        while run.poll() is None and time.monotonic() < deadline:
            if replacing or set(out.glob("*.yaml")) - stands:
                break
            time.sleep(0.001)
        time.sleep(rng.uniform(0, 0.05))
        run.kill()
        errors = run.communicate()[1]
        if run.returncode == 0:
            break
        assert run.returncode == -signal.SIGKILL, errors
        kills += 1
        for output in out.glob("*.jpg"):
            earlier_output(output)
    subprocess.run(command, check=True, capture_output=True)
    assert kills > 5
    found = verify_folder(out)
    assert (found.agreeing, found.troubles) == (24, [])
    assert not list(out.glob(".*"))
