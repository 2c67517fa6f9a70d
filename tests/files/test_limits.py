"""Small originals that would take all memory, a way that no memory is left, and odd files."""

import io
import os
import struct
import subprocess
import sys
import zlib

import pytest
import tifffile
from PIL import Image

from files.damage import chunk, originals, picture
from grading.errors import OriginalError
from grading.files import limits
from grading.files.metadata.containers import PNG_START
from grading.files.metadata.tifftags import read_chain, read_pictures
from grading.files.originals import decoders, open_frame

linux = pytest.mark.skipif(sys.platform != "linux", reason="pipes, devices and limits of Linux")


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    return originals(tmp_path_factory.mktemp("sound"))


def zeros(length, times):
    """`length` zeros as many `times`, packed (RFC 1950 and 1951), without packing each of them."""
    packing = zlib.compressobj(9, zlib.DEFLATED, -15)
    block = packing.compress(bytes(length)) + packing.flush(zlib.Z_FULL_FLUSH)
    end = zlib.compressobj(9, zlib.DEFLATED, -15).flush()
    return b"\x78\xda" + block * times + end + struct.pack(">HH", length * times % 65521, 1)


def png(width, height, *chunks):
    """A black PNG; its height is a multiple of 24."""
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    pixels = zeros(24 * (1 + 3 * width), height // 24)
    pieces = [chunk(b"IHDR", header), *chunks, chunk(b"IDAT", pixels), chunk(b"IEND", b"")]
    return PNG_START + b"".join(pieces)


def many_tags(count, span):
    """A TIFF whose tags each have a value of `span` bytes, all in the same place."""
    head = struct.pack("<2sHIH", b"II", 42, 8, count)
    tags = b"".join(struct.pack("<HHII", i + 1, 7, span, 8) for i in range(count))
    return (head + tags + bytes(4)).ljust(span + 8, b"\0")


def in_a_gibibyte(*paths):
    """What opening files one after the other says, in a process of little memory."""
    script = (
        "import resource, sys\n"
        "from grading.files.originals import open_frame\n"
        "import imageio.v3, tifffile, PIL.Image, imagecodecs, rawpy\n"
        "imagecodecs.png_decode, imagecodecs.zlib_decode\n"
        "taken = int(open('/proc/self/statm').read().split()[0]) * resource.getpagesize()\n"
        "resource.setrlimit(resource.RLIMIT_AS, (taken + (1 << 30),) * 2)\n"
        "for path in sys.argv[1:]:\n"
        "    try: print(open_frame(path).facts.width)\n"
        "    except Exception as error: print(type(error).__name__, error)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", script, *map(str, paths)], capture_output=True, text=True,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}, timeout=120,
    )  # fmt: skip
    assert run.stderr == ""
    return run.stdout.splitlines()


@linux
def test_small_files_that_would_take_all_memory(tmp_path, sound):
    files = {
        "tags.tif": many_tags(20000, 240_000),
        "tags.dng": many_tags(1000, 240_000),
        "profile.png": png(64, 48, chunk(b"iCCP", b"p\0\0" + zeros(1 << 20, 6144))),
        "large.png": png(24000, 24000),
        "small.png": sound["deflate.png"],
    }
    for name, content in files.items():
        (tmp_path / name).write_bytes(content)
    said = in_a_gibibyte(*(tmp_path / name for name in files))
    for name, words, line in zip(
        files,
        ("directory of tags cannot be read", "its tags hold more than 64 MiB",
         "profile has more than 16 MiB", "not enough memory to open it", "130"),
        said, strict=True,
    ):  # fmt: skip
        assert words in line and line.startswith((f"OriginalError {tmp_path / name}: ", "130"))


@pytest.mark.parametrize("name", ["plain.dng", "lossless.dng", "lossy.dng", "baseline.jpg",
                                  "deflate.png", "eight.tif", "packed.tif"])  # fmt: skip
def test_the_limit_of_pixels_is_that_stated(sound, tmp_path, name):
    path = tmp_path / name
    path.write_bytes(sound[name])
    assert open_frame(path, max_pixels=130 * 90).facts.width == 130
    with pytest.raises(OriginalError, match="a picture of 130 x 90 pixels; allowed: up to"):
        open_frame(path, max_pixels=130 * 90 - 1)


def test_a_gigapixel_is_the_limit_unless_stated():
    limits.check_size(40_000, 25_000, limits.MAX_PIXELS, 1 << 30)
    with pytest.raises(OriginalError, match="allowed: up to 1000 million pixels; if .* --limit"):
        limits.check_size(40_000, 25_001, limits.MAX_PIXELS, 1 << 30)


@pytest.mark.parametrize("name", ["plain.dng", "lossless.dng", "lossy.dng", "baseline.jpg",
                                  "deflate.png", "eight.tif", "packed.tif"])  # fmt: skip
def test_headers_of_absurd_size(sound, tmp_path, name):
    content = bytearray(sound[name])
    if name.endswith("jpg"):
        content[(place := content.index(b"\xff\xc0")) + 5 : place + 9] = b"\xff\xff" * 2
    elif name.endswith("png"):
        content[16:24] = struct.pack(">II", 1 << 20, 1 << 20)
    else:
        for code, size in ((256, 130), (257, 90)):
            for kind, letter in ((4, "I"), (3, "H")):
                entry = struct.pack("<HHI", code, kind, 1) + struct.pack(f"<{letter}", size)
                if entry in content:
                    place = content.rindex(entry)
                    stated = struct.pack("<HHII", code, 4, 1, 500_000)
                    content[place : place + 12] = stated
    path = tmp_path / name
    path.write_bytes(content)
    with pytest.raises(OriginalError, match=f"{name}: "):
        open_frame(path)


@pytest.mark.parametrize("suffix", ["png", "tif"])
def test_a_profile_larger_than_the_limit(tmp_path, suffix):
    """In a JPEG there is no room for one (ICC.1:2022, B.4: 255 segments)."""
    path, profile = tmp_path / f"a.{suffix}", bytes((16 << 20) + 1)
    if suffix == "tif":
        tifffile.imwrite(path, picture(), photometric="rgb", iccprofile=profile)
    else:
        Image.fromarray(picture()).save(path, icc_profile=profile)
    with pytest.raises(OriginalError, match="profile has more than 16 MiB; allowed"):
        open_frame(path)


def test_tags_beyond_the_limits_are_left_out_or_refused():
    assert read_chain(many_tags(limits.MAX_TAGS, 100)) != [{}]
    assert read_chain(many_tags(limits.MAX_TAGS + 1, 100)) == [{}]
    assert len(read_chain(many_tags(3, 16 << 20))[0]) == 3
    assert read_chain(many_tags(3, (16 << 20) + 1)) == [{}]
    with pytest.raises(OriginalError, match="its tags hold more than 64 MiB; allowed"):
        read_chain(many_tags(5, 16 << 20))


def test_a_long_chain_of_directories_ends():
    empty = [struct.pack("<HI", 0, 8 + 6 * (i + 1)) for i in range(200)]
    data = struct.pack("<2sHI", b"II", 42, 8) + b"".join(empty)
    assert len(read_pictures(data)) == limits.MAX_DIRECTORIES


def test_a_tiff_that_is_not_compressed_and_not_all_there(tmp_path):
    file = io.BytesIO()
    tifffile.imwrite(file, picture(), photometric="rgb")
    content, size = bytearray(file.getvalue()), 90 * 130 * 3
    place = content.index(struct.pack("<HHII", 279, 4, 1, size))
    content[place + 8 : place + 12] = struct.pack("<I", size - 1)
    (tmp_path / "a.tif").write_bytes(content)
    with pytest.raises(OriginalError, match=f"holds {size - 1} bytes of pixels of {size}"):
        open_frame(tmp_path / "a.tif")


@linux
def test_pipes_and_devices_are_refused_at_once(tmp_path):
    os.mkfifo(tmp_path / "a.dng")
    for path in (tmp_path / "a.dng", "/dev/zero", "/dev/null"):
        with pytest.raises(OriginalError, match=f"{path}: cannot be read .* not a regular file"):
            open_frame(path)


@pytest.mark.parametrize(
    ("name", "claim"), [("a.png", "PNG"), ("a.JPG", "JPEG"), ("a.jpeg", "JPEG"), ("a.tif", "TIFF")]
)
def test_junk_is_told_by_what_it_claims_to_be(tmp_path, name, claim):
    (tmp_path / name).write_bytes(bytes(range(256)) * 20)
    with pytest.raises(OriginalError) as caught:
        open_frame(tmp_path / name)
    assert f"not a PNG, JPEG, TIFF or raw file: its name says {claim}" in str(caught.value)
    assert "LibRaw" not in str(caught.value)


def test_a_raw_named_like_a_picture_opens(sound, tmp_path):
    (tmp_path / "a.jpg").write_bytes(sound["plain.dng"])
    assert open_frame(tmp_path / "a.jpg").facts.decoder.endswith("mosaic")


@linux
@pytest.mark.parametrize("spare", [6, 22])
def test_where_memory_is_short_while_a_decoder_loads_the_next_frame_opens(tmp_path, sound, spare):
    """A limit in MiB that the first frame meets; for the second it is lifted."""
    for name in ("packed.tif", "baseline.jpg"):
        (tmp_path / name).write_bytes(sound[name])
    script = (
        "import resource, sys\n"
        "from grading.files.originals import open_frame\n"
        "from grading.errors import OriginalError\n"
        "taken = int(open('/proc/self/statm').read().split()[0]) * resource.getpagesize()\n"
        "limit = resource.getrlimit(resource.RLIMIT_AS)\n"
        f"resource.setrlimit(resource.RLIMIT_AS, (taken + ({spare} << 20), limit[1]))\n"
        "try: open_frame(sys.argv[1])\n"
        "except OriginalError: pass\n"
        "resource.setrlimit(resource.RLIMIT_AS, limit)\n"
        "print(*(open_frame(path).facts.width for path in sys.argv[1:]))\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", script, tmp_path / "packed.tif", tmp_path / "baseline.jpg"],
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}, capture_output=True, text=True,
    )  # fmt: skip
    assert (run.returncode, run.stdout, run.stderr) == (0, "130 130\n", "")


def test_a_package_whose_import_failed_is_imported_anew(tmp_path, monkeypatch):
    """Its first module is ready when its second one finds no memory."""
    package = tmp_path / "halfway"
    package.mkdir()
    (package / "__init__.py").write_text("from halfway import first\nfrom halfway import second\n")
    (package / "first.py").write_text("kinds = []\n")
    (package / "second.py").write_text(
        "import builtins\nfrom halfway import first\nfirst.kinds.append(1)\n"
        "if getattr(builtins, 'short_of_memory', True): raise MemoryError\n"
    )
    monkeypatch.syspath_prepend(tmp_path)
    with pytest.raises(MemoryError):
        __import__("halfway")
    assert "halfway.first" in sys.modules  # what Python leaves
    decoders.undo_failed_imports()
    assert "halfway.first" not in sys.modules
    monkeypatch.setattr("builtins.short_of_memory", False, raising=False)
    assert __import__("halfway").first.kinds == [1]


def test_a_stand_in_for_a_codec_does_not_stay(tmp_path, sound):
    """imagecodecs keeps a stand-in for what it could not load, so this runs in a process apart."""
    (tmp_path / "a.png").write_bytes(sound["deflate.png"])
    script = (
        "import sys, importlib.abc\n"
        "from grading.errors import OriginalError\n"
        "from grading.files.originals import open_frame\n"
        "class Short(importlib.abc.MetaPathFinder):\n"
        "    def find_spec(self, name, path, target=None):\n"
        "        if name == 'imagecodecs._png':\n"
        "            raise ImportError('failed to map segment from shared object')\n"
        "sys.meta_path.insert(0, Short())\n"
        "try: open_frame(sys.argv[1])\n"
        "except OriginalError as error: print(error)\n"
        "del sys.meta_path[0]\n"
        "print(open_frame(sys.argv[1]).facts.width)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", script, tmp_path / "a.png"],
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}, capture_output=True, text=True,
    )  # fmt: skip
    assert run.stderr == ""
    first, second = run.stdout.splitlines()
    assert f"{tmp_path / 'a.png'}: what decodes it does not work (" in first and second == "130"


def test_a_missing_decoder_is_told(tmp_path, sound, monkeypatch):
    (tmp_path / "a.jpg").write_bytes(sound["baseline.jpg"])
    monkeypatch.setitem(sys.modules, "imageio.v3", None)
    with pytest.raises(OriginalError, match=r"a\.jpg: what decodes it does not work \(.*imageio"):
        open_frame(tmp_path / "a.jpg")
