"""Only regular files are opened, and nothing is waited for."""

import os
import socket

import pytest

from grading.regular_file import open_regular


def test_a_file(tmp_path):
    path = tmp_path / "a\r\n"
    path.write_bytes(b"one\r\ntwo")
    with open_regular(path) as file:
        assert file.read() == b"one\r\ntwo"


def test_a_link_to_a_file(tmp_path):
    (tmp_path / "a").write_bytes(b"x")
    (tmp_path / "b").symlink_to("a")
    with open_regular(tmp_path / "b") as file:
        assert file.read() == b"x"


@pytest.mark.skipif(os.name == "nt", reason="special files of POSIX")
def test_what_is_no_regular_file_is_refused_at_once(tmp_path):
    os.mkfifo(tmp_path / "pipe")
    before = os.listdir("/proc/self/fd") if os.path.isdir("/proc/self/fd") else []
    with socket.socket(socket.AF_UNIX) as listening:
        listening.bind(str(tmp_path / "socket"))
        for path in (tmp_path / "pipe", tmp_path, "/dev/zero", tmp_path / "socket"):
            with pytest.raises(OSError, match="not a regular file|[Nn]o such device"):
                open_regular(path)
    if before:
        assert os.listdir("/proc/self/fd") == before


def test_no_path_at_all(tmp_path):
    with pytest.raises(OSError, match="null"):
        open_regular(tmp_path / "a\0b")
    with pytest.raises(FileNotFoundError):
        open_regular(tmp_path / "none")
