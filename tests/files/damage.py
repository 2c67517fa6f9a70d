"""Small originals of every kind, and seeded damage to them.

As a program it opens many damaged ones under a limit of memory, and prints what came of them.
"""

import io
import json
import resource
import struct
import sys
import time
import zlib
from collections import Counter
from pathlib import Path

import imagecodecs
import numpy as np
import tifffile
from PIL import Image

import dng
from files.charts import MATRIX_A, MATRIX_D65
from grading.colour.profiles import icc_profile
from grading.errors import OriginalError
from grading.files.metadata import tifftags
from grading.files.metadata.exif import exif_block
from grading.files.metadata.tifftags import Tag
from grading.files.originals import open_frame
from grading.region import Region
from tiffwriter import BYTE, LONG, SHORT
from tiffwriter import tiff as tiff_of

MEMORY = 1 << 30
DEMO = Path(__file__).parents[2] / "demo_images" / "harbour_08.dng"
REAL = Path(__file__).parents[3] / "shared" / "raws" / "tinydng_colorchart.dng"
ABSURD = (0, 1, 255, 65535, 65536, 99999, 1 << 24, (1 << 31) - 1, 1 << 31, (1 << 32) - 1)
SEVERAL = 600  # bytes at either end, where headers and directories are


def picture(height=90, width=130, seed=0):
    """Smooth light with texture, uint8."""
    y, x = np.mgrid[0 : 1 : height * 1j, 0 : 1 : width * 1j]
    smooth = np.stack([x, y, (x + y) / 2], -1) * 200
    return (smooth + np.random.default_rng(seed).uniform(0, 55, smooth.shape)).astype(np.uint8)


def lossy_dng(rgb, tile=64, compression=34892):
    """A DNG of finished pixels in tiles of lossy JPEG (DNG 1.4, compression 34892)."""
    rows, columns = (-(-size // tile) * tile for size in rgb.shape[:2])
    grown = np.pad(rgb, ((0, rows - len(rgb)), (0, columns - rgb.shape[1]), (0, 0)), mode="edge")
    segments = [
        imagecodecs.jpeg8_encode(np.ascontiguousarray(grown[y : y + tile, x : x + tile]), level=92)
        for y in range(0, rows, tile)
        for x in range(0, columns, tile)
    ]
    tags = {
        254: (LONG, 0),
        256: (LONG, rgb.shape[1]),
        257: (LONG, rgb.shape[0]),
        258: (SHORT, (8, 8, 8)),
        259: (SHORT, compression),
        262: (SHORT, 34892),
        277: (SHORT, 3),
        322: (LONG, tile),
        323: (LONG, tile),
        50706: (BYTE, (1, 4, 0, 0)),
        50714: (SHORT, (0, 0, 0)),
        50717: (SHORT, (255, 255, 255)),
        **dng._matrix_tags(0, MATRIX_D65, "D65"),
        50728: (dng.RATIONAL, (0.5, 1, 0.625)),
    }
    return tiff_of(tags, segments, {})


def exif():
    """An EXIF block with a fact of each kind."""
    main = {271: Tag(tifftags.ASCII, "Invented"), 315: Tag(tifftags.ASCII, "Nobody")}
    facts = {33434: Tag(tifftags.RATIONAL, ((1, 125),)), 37380: Tag(tifftags.SRATIONAL, ((-2, 3),))}
    gps = {1: Tag(tifftags.ASCII, "N"), 2: Tag(tifftags.RATIONAL, ((52, 1), (30, 1), (0, 1)))}
    return exif_block((main, facts, gps), 9, 9)


def originals(folder):
    """Bytes of a sound original of each kind, by a file name."""
    rgb, icc, block = picture(), icc_profile("display-p3"), exif()
    camera = dict(
        white=16383, black=(500,) * 4, color_matrix1=MATRIX_A, illuminant1="A",
        color_matrix2=MATRIX_D65, illuminant2="D65", as_shot_neutral=(0.5, 1, 0.625),
        exif={"ExposureTime": 0.004, "LensModel": "50 mm"}, gps=(48.5, 2.25),
    )  # fmt: skip
    mosaic = dng.mosaic_of(rgb.astype(np.uint16) * 50 + 500)
    found = {}
    for name, compression in (("plain", None), ("lossless", "ljpeg")):
        dng.write_dng(folder / "made.dng", mosaic, compression=compression, **camera)
        found[f"{name}.dng"] = (folder / "made.dng").read_bytes()
    found["lossy.dng"] = lossy_dng(rgb)
    for name, options in (
        ("baseline.jpg", {"quality": 90}),
        ("progressive.jpg", {"quality": 90, "progressive": True}),
        ("deflate.png", {}),
        ("eight.tif", {}),
    ):
        file = io.BytesIO()
        kind = {"jpg": "JPEG", "png": "PNG", "tif": "TIFF"}[name[-3:]]
        Image.fromarray(rgb).save(file, kind, icc_profile=icc, exif=block, **options)
        found[name] = file.getvalue()
    for name, codes, compression in (
        ("sixteen.tif", rgb.astype(np.uint16) * 257, None),
        ("packed.tif", rgb.astype(np.uint16) * 257, "zlib"),
        ("jpeg.tif", rgb, "jpeg"),
    ):
        file, text = io.BytesIO(), [(315, 2, 0, "Nobody", True)]
        tifffile.imwrite(
            file, codes, photometric="rgb", iccprofile=icc, extratags=text, compression=compression
        )
        found[name] = file.getvalue()
    (folder / "made.dng").unlink()
    return found


def chunk(name, content):
    """A chunk of a PNG (W3C PNG, 5.3)."""
    crc = struct.pack(">I", zlib.crc32(name + content))
    return struct.pack(">I", len(content)) + name + content + crc


def damaged(content, rng):
    """A kind of damage, and the bytes with it."""
    kind = rng.choice(["cut", "flips", "header", "random", "zeros", "absurd", "tag", "tag"])
    if kind == "cut":
        return kind, content[: int(rng.integers(1, len(content)))]
    changed, size = bytearray(content), len(content)
    near = min(SEVERAL, size - 8)
    end = int(rng.choice([int(rng.integers(near)), size - 8 - int(rng.integers(near))]))
    if kind == "flips":
        for place in rng.integers(0, size, rng.integers(1, 9)):
            changed[place] ^= 1 << rng.integers(8)
    elif kind == "header":
        for _ in range(rng.integers(1, 4)):
            place = min(size - 1, max(0, end + int(rng.integers(-20, 20))))
            changed[place] = rng.integers(256)
    elif kind in ("random", "zeros"):
        length = int(min(rng.choice([4, 64, 512, 4096]), size // 2))
        place = int(rng.integers(0, size - length))
        changed[place : place + length] = rng.bytes(length) if kind == "random" else bytes(length)
    else:
        number, order = int(rng.choice(ABSURD)), rng.choice(["<", ">"])
        place = _in_a_tag(content, rng) if kind == "tag" else None
        struct.pack_into(f"{order}I", changed, end if place is None else place, number)
    return kind, bytes(changed)


def _in_a_tag(content, rng):
    """Place of the count or the value of some tag of a TIFF's main directory."""
    if content[:2] not in (b"II", b"MM"):
        return None
    order = "<" if content[:2] == b"II" else ">"
    (start,) = struct.unpack_from(order + "I", content, 4)
    (entries,) = struct.unpack_from(order + "H", content, start)
    return start + 2 + 12 * int(rng.integers(entries)) + int(rng.choice([4, 8, 8]))


def outcome(path):
    """Open a file, read and reduce its picture: "opened", or the problem of its OriginalError."""
    try:
        frame = open_frame(path)
        pixels = frame.pixels
        height, width = min(pixels.height, 64), min(pixels.width, 64)
        part, reduced = pixels.read(Region.whole(height, width)), pixels.reduced(8)
    except OriginalError as error:
        assert str(error).startswith(f"{path}: "), error
        return error.problem
    assert part.shape == (3, height, width) and part.dtype == np.float32
    assert reduced.shape == (3, -(-pixels.height // 8), -(-pixels.width // 8))
    return "opened"


def main(folder, names, first, rounds):
    """Damage the originals called `names`, by the seeds from `first` on; print a summary.

    A name with a folder is a file; the others are those of `originals`.
    """
    sound = originals(folder)
    sound |= {Path(name).name: Path(name).read_bytes() for name in names if "/" in name}
    names = [Path(name).name for name in names]
    for name in names:
        (folder / name).write_bytes(sound[name])
        outcome(folder / name)  # loads what it needs
    taken = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    resource.setrlimit(resource.RLIMIT_AS, (taken + MEMORY, resource.RLIM_INFINITY))
    counts, slowest, hungry = Counter(), (0, ""), []
    for name in names:
        for seed in range(first, first + rounds):
            kind, content = damaged(sound[name], np.random.default_rng(seed))
            (folder / name).write_bytes(content)
            print(name, seed, file=sys.stderr)
            start = time.process_time()
            result = outcome(folder / name)
            slowest = max(slowest, (time.process_time() - start, f"{name} {seed}"))
            counts[f"{name} {'opened' if result == 'opened' else 'refused'}"] += 1
            if "memory" in result:
                hungry.append(f"{name} {seed} {kind}")
    print(json.dumps({"counts": counts, "slowest": slowest, "hungry": hungry}))


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[4:], int(sys.argv[2]), int(sys.argv[3]))
