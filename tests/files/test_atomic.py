"""Writing: whole or not at all, even when killed."""

import errno
import os
import signal
import stat
import subprocess
import sys
import time

import pytest

from grading.errors import OutputError
from grading.files.atomic import (
    NewFile,
    make_folder,
    remove_leftovers,
    write_atomically,
    write_together,
)


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_writes_and_leaves_nothing_else(tmp_path):
    write_atomically(tmp_path / "a.jpg", b"content")
    assert (tmp_path / "a.jpg").read_bytes() == b"content"
    assert names(tmp_path) == ["a.jpg"]


def test_an_existing_file_stays_unless_told(tmp_path):
    path = tmp_path / "a.jpg"
    path.write_bytes(b"old")
    with pytest.raises(OutputError, match=r"a\.jpg: the output exists already"):
        write_atomically(path, b"new")
    assert path.read_bytes() == b"old" and names(tmp_path) == ["a.jpg"]
    write_atomically(path, b"new", overwrite=True)
    assert path.read_bytes() == b"new" and names(tmp_path) == ["a.jpg"]


def test_a_file_that_appears_meanwhile_stays(tmp_path, monkeypatch):
    """Another process takes the name after the bytes are written, before the rename."""
    path = tmp_path / "a.jpg"
    link = os.link

    def be_overtaken(source, target):
        path.write_bytes(b"theirs")
        link(source, target)

    monkeypatch.setattr(os, "link", be_overtaken)
    with pytest.raises(OutputError, match="exists already"):
        write_atomically(path, b"ours")
    assert path.read_bytes() == b"theirs" and names(tmp_path) == ["a.jpg"]


@pytest.mark.parametrize(
    "number", [errno.EPERM, errno.ENOTSUP, errno.EINVAL, errno.ENOSYS, errno.EMLINK]
)
def test_without_hard_links(tmp_path, monkeypatch, number):
    def no_links(source, target):
        raise OSError(number, "no hard links here")

    monkeypatch.setattr(os, "link", no_links)
    write_atomically(tmp_path / "a.jpg", b"content")
    with pytest.raises(OutputError, match="exists already"):
        write_atomically(tmp_path / "a.jpg", b"other")
    assert (tmp_path / "a.jpg").read_bytes() == b"content" and names(tmp_path) == ["a.jpg"]


@pytest.mark.parametrize(
    ("number", "message"),
    [
        (errno.ENOSPC, "the disk is full, 7 bytes are needed"),
        (errno.EACCES, "no permission"),
        (errno.EIO, "cannot be written"),
    ],
)
def test_failures_are_told_and_leave_nothing(tmp_path, monkeypatch, number, message):
    def fail(descriptor):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(OutputError, match=message):
        write_atomically(tmp_path / "a.jpg", b"content")
    assert names(tmp_path) == []


def test_an_interrupt_leaves_nothing(tmp_path, monkeypatch):
    def interrupt(descriptor):
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupt)
    with pytest.raises(KeyboardInterrupt):
        write_atomically(tmp_path / "a.jpg", b"content")
    assert names(tmp_path) == []


def test_folders_that_are_none(tmp_path):
    (tmp_path / "file").write_bytes(b"")
    (tmp_path / "folder").mkdir()
    for path, overwrite, message in (
        (tmp_path / "missing" / "a.jpg", False, "the folder does not exist"),
        (tmp_path / "file" / "a.jpg", False, "the folder is a file"),
        (tmp_path / "folder", True, "a folder has this name"),
        (tmp_path / "folder", False, "exists already"),
    ):
        with pytest.raises(OutputError, match=message):
            write_atomically(path, b"content", overwrite)
    assert names(tmp_path) == ["file", "folder"]


def test_killed_while_writing(tmp_path):
    """Kill a process that writes the same names over and over; no name is ever partial."""
    size = 4_000_000
    script = (
        "import itertools, sys; from grading.files.atomic import write_atomically\n"
        f"for i in itertools.count(): write_atomically(f'{{sys.argv[1]}}/{{i % 3}}.jpg',"
        f" bytes([i % 251]) * {size}, overwrite=True)"
    )
    for delay in (0.01, 0.05, 0.09):
        for path in tmp_path.glob("*.jpg"):
            path.unlink()
        process = subprocess.Popen([sys.executable, "-c", script, str(tmp_path)])
        deadline = time.monotonic() + 20
        while not (tmp_path / "0.jpg").exists() and time.monotonic() < deadline:
            time.sleep(0.01)
        time.sleep(delay)
        process.send_signal(signal.SIGKILL)
        process.wait()
        outputs = list(tmp_path.glob("*.jpg"))
        assert outputs
        for path in outputs:
            content = path.read_bytes()
            assert len(content) == size and content == content[:1] * size
        remove_leftovers(tmp_path)
        assert names(tmp_path) == sorted(path.name for path in outputs)


def test_leftovers_are_removed_and_others_spared(tmp_path):
    left = tmp_path / ".grading-left.part"
    for path in (left, tmp_path / "a.jpg", tmp_path / "b.part", tmp_path / ".hidden"):
        path.write_bytes(b"x")
    remove_leftovers(tmp_path)
    assert names(tmp_path) == [".hidden", "a.jpg", "b.part"]
    remove_leftovers(tmp_path / "none")


def test_what_a_run_at_work_writes_is_no_leftover(tmp_path, monkeypatch):
    link, standing = os.link, []

    def look_around(source, target):
        remove_leftovers(tmp_path)
        standing.extend(names(tmp_path))
        link(source, target)

    monkeypatch.setattr(os, "link", look_around)
    write_atomically(tmp_path / "a.jpg", b"content")
    assert len(standing) == 1 and names(tmp_path) == ["a.jpg"]


def test_a_temporary_file_taken_before_it_was_locked_is_made_again(tmp_path, monkeypatch):
    fcntl = pytest.importorskip("fcntl")
    lock, taken = fcntl.flock, []

    def be_overtaken(file, how):
        if not taken:
            taken.extend(tmp_path.glob(".grading-*"))
            taken[0].unlink()
        lock(file, how)

    monkeypatch.setattr(fcntl, "flock", be_overtaken)
    write_atomically(tmp_path / "a.jpg", b"content")
    assert len(taken) == 1 and (tmp_path / "a.jpg").read_bytes() == b"content"


def test_files_that_belong_together_appear_in_order(tmp_path, monkeypatch):
    """Each name is durable before the next one appears: the folder is flushed between."""
    events, fsync, link = [], os.fsync, os.link

    def flushed(descriptor):
        events.append("folder" if stat.S_ISDIR(os.fstat(descriptor).st_mode) else "file")
        fsync(descriptor)

    def named(source, target):
        events.append(os.path.basename(target))
        link(source, target)

    monkeypatch.setattr(os, "fsync", flushed)
    monkeypatch.setattr(os, "link", named)
    files = [NewFile(tmp_path / "a.yaml", b"sidecar"), NewFile(tmp_path / "a.jpg", b"output")]
    write_together(files)
    assert events == ["file", "file", "a.yaml", "folder", "a.jpg", "folder"]
    assert names(tmp_path) == ["a.jpg", "a.yaml"]


def test_replacing_is_one_step_and_durable(tmp_path, monkeypatch):
    """The old file has its name until the new one takes it."""
    path, events, fsync, replace = tmp_path / "a.jpg", [], os.fsync, os.replace
    path.write_bytes(b"old")

    def flushed(descriptor):
        if stat.S_ISDIR(os.fstat(descriptor).st_mode):
            events.append(path.read_bytes())
        fsync(descriptor)

    def replaced(source, target):
        events.append(path.read_bytes())
        replace(source, target)

    monkeypatch.setattr(os, "fsync", flushed)
    monkeypatch.setattr(os, "replace", replaced)
    write_atomically(path, b"new", overwrite=True)
    assert events == [b"old", b"new"]


def test_of_files_that_belong_together_none_is_left_alone(tmp_path):
    (tmp_path / "a.jpg").write_bytes(b"theirs")
    files = [NewFile(tmp_path / "a.yaml", b"sidecar"), NewFile(tmp_path / "a.jpg", b"ours")]
    with pytest.raises(OutputError, match="a.jpg: the output exists already"):
        write_together(files)
    assert names(tmp_path) == ["a.jpg"]
    (tmp_path / "a.jpg").unlink()
    (tmp_path / "a.jpg").mkdir()
    (tmp_path / "a.yaml").write_bytes(b"old")
    with pytest.raises(OutputError, match="a folder has this name"):
        write_together(
            [NewFile(tmp_path / "a.yaml", b"new", True), NewFile(tmp_path / "a.jpg", b"ours", True)]
        )
    assert names(tmp_path) == ["a.jpg", "a.yaml"]  # an old file that was replaced stays replaced


@pytest.mark.skipif(os.name == "nt", reason="POSIX permissions")
def test_permissions_are_those_of_any_new_file(tmp_path):
    (tmp_path / "plain").write_bytes(b"")
    write_atomically(tmp_path / "a.jpg", b"content")
    assert (tmp_path / "a.jpg").stat().st_mode == (tmp_path / "plain").stat().st_mode


def test_a_folder_that_nothing_can_be_written_into_is_refused_before_the_work(
    tmp_path, monkeypatch
):
    monkeypatch.setattr(os, "access", lambda path, mode: mode != os.W_OK)
    with pytest.raises(OutputError, match="nothing can be written into this folder"):
        make_folder(tmp_path / "out")
