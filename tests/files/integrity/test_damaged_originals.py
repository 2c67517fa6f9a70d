"""Damaged originals of every kind: a picture or a plain refusal, and not a word from a decoder."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from files import damage
from grading.errors import OriginalError
from grading.files.integrity import dng
from grading.files.integrity.dct_jpeg import is_sound
from grading.files.metadata.tifftags import read_pictures, segments
from grading.files.originals import open_frame, raw

ROUNDS = 12
MANY = 400
NAMES = (
    "plain.dng lossless.dng lossy.dng baseline.jpg progressive.jpg deflate.png eight.tif "
    "sixteen.tif packed.tif jpeg.tif"
).split()


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    return damage.originals(tmp_path_factory.mktemp("sound"))


@pytest.mark.parametrize("name", NAMES)
def test_a_frame_or_an_error_that_names_the_file(sound, tmp_path, capfd, caplog, name):
    path = tmp_path / name
    path.write_bytes(sound[name])
    assert damage.outcome(path) == "opened"
    for seed in range(ROUNDS):
        _, content = damage.damaged(sound[name], np.random.default_rng(seed))
        path.write_bytes(content)
        damage.outcome(path)
    assert capfd.readouterr() == ("", "")


@pytest.mark.slow
@pytest.mark.skipif(sys.platform != "linux", reason="the limit of memory is Linux's")
def test_thousands_within_a_gibibyte(tmp_path):
    names = [*NAMES, *(str(path) for path in (damage.DEMO, damage.REAL) if path.exists())]
    run = subprocess.run(
        [sys.executable, damage.__file__, str(tmp_path), "0", str(MANY), *names],
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}, capture_output=True, text=True,
        timeout=3600,
    )  # fmt: skip
    # LibRaw writes a line of its own beside the error that it gives, where no walk of ours knows
    # the coding
    shown = [line for line in run.stderr.splitlines() if not line.startswith("unknown file: ")]
    assert run.returncode == 0, shown[-20:]
    result = json.loads(run.stdout)
    assert result["hungry"] == [] and result["slowest"][0] < 10
    assert sum(result["counts"].values()) == MANY * len(names)
    expected = [f"{Path(name).name} {seed}" for name in names for seed in range(MANY)]
    assert shown == expected, "something else was printed"


@pytest.mark.parametrize("name", ["lossy.dng", "baseline.jpg", "progressive.jpg", "jpeg.tif"])
def test_lossy_jpeg_with_its_middle_overwritten_does_not_open(sound, tmp_path, capfd, name):
    path, rng = tmp_path / name, np.random.default_rng(4)
    middle = len(sound[name]) // 2
    for length in (64, 512):
        content = bytearray(sound[name])
        content[middle : middle + length] = rng.bytes(length)
        path.write_bytes(content)
        with pytest.raises(OriginalError, match=f"{name}: .*damaged"):
            open_frame(path)
    assert capfd.readouterr() == ("", "")


def test_damage_in_the_lossy_jpeg_of_a_dng_names_the_part(sound, tmp_path):
    content = bytearray(sound["lossy.dng"])
    start, end = segments(read_pictures(content)[0])[3]
    content[(start + end) // 2 : (start + end) // 2 + 64] = bytes(64)
    path = tmp_path / "a.dng"
    path.write_bytes(content)
    with pytest.raises(OriginalError, match="part 4 of the 6 parts .* copy it again"):
        open_frame(path)


def test_a_raw_whose_pixels_are_not_all_there(sound, tmp_path):
    content = bytearray(sound["plain.dng"])
    counts = content.rindex((90 * 130 * 2).to_bytes(4, "little"))
    content[counts : counts + 4] = (90 * 130 * 2 - 77).to_bytes(4, "little")
    path = tmp_path / "a.dng"
    path.write_bytes(content)
    with pytest.raises(OriginalError, match="77 bytes of its pixels are missing"):
        open_frame(path)


def _with_tag(content, code, kind, value):
    """A file whose last tag of a code has another value."""
    content = bytearray(content)
    entry = content.rindex(code.to_bytes(2, "little") + kind.to_bytes(2, "little"))
    content[entry + 8 : entry + 12] = value.to_bytes(4, "little")
    return content


def test_what_libraw_finds_damaged_is_an_error_of_that_file(sound, tmp_path, monkeypatch):
    """Of a coding that this package does not know: here it takes the file for one."""
    monkeypatch.setattr(raw, "unpacked", lambda *file: (None, None))
    monkeypatch.setattr(dng, "damaged_segment", lambda data, directories: None)
    content = bytearray(sound["lossless.dng"])
    path = tmp_path / "a.dng"
    start, end = segments(read_pictures(content)[0])[0]
    content[(start + end) // 2 : end] = b"\xff" * (end - (start + end) // 2)
    path.write_bytes(content)
    with pytest.raises(OriginalError, match="a.dng: .*LibRaw cannot read it .*Data error"):
        open_frame(path)


def test_a_version_that_libraw_does_not_know_is_an_error(sound, tmp_path, capfd):
    path = tmp_path / "a.dng"
    path.write_bytes(_with_tag(sound["lossy.dng"], 50706, 1, 0))
    with pytest.raises(OriginalError, match="LibRaw cannot read it"):
        open_frame(path)
    assert capfd.readouterr() == ("", "")


def test_what_a_decoder_logs_is_a_warning_of_that_file(sound, tmp_path, capfd):
    """Nine bytes of significant bits, where RGB has three (W3C PNG, sBIT): libpng goes on."""
    png = sound["deflate.png"]
    chunk = damage.chunk(b"sBIT", bytes(9))
    path = tmp_path / "a.png"
    path.write_bytes(png[:33] + chunk + png[33:])
    (warning,) = open_frame(path).facts.warnings
    assert warning.startswith("the decoder says: ") and "sBIT" in warning
    assert capfd.readouterr() == ("", "")


def test_facts_that_pillow_would_stumble_over_do_not_reach_it(sound, tmp_path, recwarn):
    """An EXIF block with a count of values that its tag has not, and an index of pictures."""
    exif = b"Exif\0\0II*\0\x08\0\0\0\x01\0\x1a\x01\x05\0\xff\xff\0\0\xff\xff\xff\xff"
    index = b"MPF\0nonsense"
    jpeg = sound["baseline.jpg"]
    added = [
        bytes((0xFF, marker)) + (len(body) + 2).to_bytes(2, "big") + body
        for marker, body in ((0xE1, exif), (0xE2, index))
    ]
    path = tmp_path / "a.jpg"
    path.write_bytes(jpeg[:2] + b"".join(added) + jpeg[2:])
    assert open_frame(path).facts.width == 130
    assert not recwarn


@pytest.mark.parametrize("name", ["baseline.jpg", "progressive.jpg"])
def test_bytes_after_the_end_and_zeros_before_it_do_no_harm(sound, name):
    assert is_sound(sound[name] + b"more")
    assert is_sound(sound[name][:-2] + bytes(5) + b"\xff\xd9")
    assert not is_sound(sound[name][:-2] + b"more" + b"\xff\xd9")
