"""Writing: whole or not at all, even when killed."""

import errno
import os
import signal
import subprocess
import sys
import time

import pytest

from grading.errors import OutputError
from grading.files import atomic
from grading.files.atomic import remove_leftovers, write_atomically


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
    write_new = atomic._write_new

    def write_and_be_overtaken(temporary, data):
        write_new(temporary, data)
        path.write_bytes(b"theirs")

    monkeypatch.setattr(atomic, "_write_new", write_and_be_overtaken)
    with pytest.raises(OutputError, match="exists already"):
        write_atomically(path, b"ours")
    assert path.read_bytes() == b"theirs" and names(tmp_path) == ["a.jpg"]


@pytest.mark.parametrize("number", [errno.EPERM, errno.ENOTSUP, errno.EINVAL])
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
        remove_leftovers(tmp_path, older_than=0)
        assert names(tmp_path) == sorted(path.name for path in outputs)


def test_leftovers_are_removed_and_others_spared(tmp_path):
    old, young = (tmp_path / f".grading-{name}.part" for name in ("old", "young"))
    for path in (old, young, tmp_path / "a.jpg", tmp_path / "b.part", tmp_path / ".hidden"):
        path.write_bytes(b"x")
    os.utime(old, (time.time() - 3600,) * 2)
    assert remove_leftovers(tmp_path) == [old]
    assert names(tmp_path) == [".grading-young.part", ".hidden", "a.jpg", "b.part"]


@pytest.mark.skipif(os.name == "nt", reason="POSIX permissions")
def test_permissions_are_those_of_any_new_file(tmp_path):
    (tmp_path / "plain").write_bytes(b"")
    write_atomically(tmp_path / "a.jpg", b"content")
    assert (tmp_path / "a.jpg").stat().st_mode == (tmp_path / "plain").stat().st_mode
