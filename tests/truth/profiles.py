"""The profile in a finished file, read by others, beside the numbers of the engine."""

import zlib
from functools import cache
from io import BytesIO
from struct import unpack_from
from typing import NamedTuple

import imagecodecs
import numpy as np
import tifffile
from PIL import Image, ImageCms

from grading.colour.adaptation import bradford
from grading.colour.difference import delta_e_2000, xyz_to_lab
from grading.colour.spaces import D65, SPACES, rgb_to_xyz, xy_to_xyz
from grading.engine.execute import render
from grading.engine.output import Output
from grading.files.formats.registry import FORMATS
from grading.shoot.deliver import encode
from truth.pictures import frame_of, recipe, xyz_of

FILES = tuple(name for name, record in FORMATS.items() if not record.spaces)
"""Formats whose files carry an ICC profile."""

D50 = np.array([0.9642, 1.0, 0.8249])
"""White of the profile connection space, ICC.1:2022, 7.2.16."""


class Profile(NamedTuple):
    """Largest CIEDE2000 between the engine's colours and those of other readers of the file.

    `littlecms` is in floating point, `pillow` LittleCMS through Pillow with 8 bits of L*a*b*,
    `parsed` a plain reading of the profile's curve and matrix.
    """

    file_format: str
    space: str
    littlecms: float
    pillow: float
    parsed: float


def _colours():
    """Chart of the working light: a lattice within sRGB, in blocks of 8 x 8 pixels."""
    level = np.linspace(0.01, 0.95, 5)
    lattice = np.stack(np.meshgrid(level, level, level, indexing="ij"), axis=-1)
    to_working = np.linalg.solve(rgb_to_xyz(SPACES["bt2020"]), rgb_to_xyz(SPACES["srgb"]))
    return np.kron(lattice.reshape(5, 25, 3) @ to_working.T, np.ones((8, 8, 1)))


def _file(file_format, space):
    """The picture as a file."""
    picture = render(frame_of(_colours()), recipe(), Output(file_format, space), workers=1)
    return encode(picture, None)


def codes_and_profile(data):
    """Codes and ICC profile of a JPEG, PNG or TIFF file, by readers that are not the engine's."""
    if data[:2] == b"\xff\xd8":
        return imagecodecs.jpeg8_decode(data), _jpeg_profile(data)
    if data[1:4] == b"PNG":
        return imagecodecs.png_decode(data), _png_profile(data)
    with tifffile.TiffFile(BytesIO(data)) as file:
        return file.pages[0].asarray(), file.pages[0].tags[34675].value


def _jpeg_profile(data):
    """Pieces of APP2 segments, ICC.1:2022, annex B.4."""
    place, pieces = 2, {}
    while data[place + 1] != 0xDA:
        marker, size = data[place + 1], unpack_from(">H", data, place + 2)[0]
        payload = data[place + 4 : place + 2 + size]
        if marker == 0xE2 and payload.startswith(b"ICC_PROFILE\0"):
            pieces[payload[12]] = payload[14:]
        place += 2 + size
    return b"".join(pieces[number] for number in sorted(pieces))


def _png_profile(data):
    """The iCCP chunk, PNG (third edition), 11.3.2.3."""
    place = data.index(b"iCCP")
    content = data[place + 4 : place + 4 + unpack_from(">I", data, place - 4)[0]]
    return zlib.decompress(content[content.index(b"\0") + 2 :])


def parsed_xyz(profile, codes):
    """XYZ (D50) of codes 0..1 by the profile's parametric curve and its matrix."""
    tags = {}
    for i in range(unpack_from(">I", profile, 128)[0]):
        name, offset, size = unpack_from(">4sII", profile, 132 + 12 * i)
        tags[name] = profile[offset : offset + size]
    linear = []
    for channel, name in enumerate((b"rTRC", b"gTRC", b"bTRC")):
        signature, _, function = unpack_from(">4s4sH", tags[name])
        if signature != b"para" or function not in (0, 3):
            raise ValueError(f"{name!r} is not a parametric curve of type 0 or 3")
        count = {0: 1, 3: 5}[function]
        curve = np.array(unpack_from(f">{count}i", tags[name], 12)) / 65536
        gamma, a, b, c, d = curve if function else (*curve, 1, 0, 0, 0)
        x = codes[..., channel]
        linear.append(np.where(x >= d, (a * x + b) ** gamma, c * x))
    columns = [np.array(unpack_from(">3i", tags[n], 8)) for n in (b"rXYZ", b"gXYZ", b"bXYZ")]
    return np.stack(linear, axis=-1) @ (np.array(columns) / 65536)


@cache
def measure_profile(file_format, space):
    """A chart in a finished file; each reader starts from the file's bytes alone."""
    data = _file(file_format, space)
    codes, profile = codes_and_profile(data)
    own = xyz_to_lab(xyz_of(codes, space) @ bradford(xy_to_xyz(D65), D50).T, D50)
    shares = codes / np.iinfo(codes.dtype).max
    littlecms = imagecodecs.cms_transform(
        shares.reshape(-1, 3).astype(np.float32)[None],
        profile,
        imagecodecs.cms_profile("xyz"),
        colorspace="rgb",
        outcolorspace="xyz",
        intent=1,
    )
    return Profile(
        file_format=file_format,
        space=space,
        littlecms=_largest(own, xyz_to_lab(littlecms.reshape(own.shape), D50)),
        pillow=_largest(*_through_pillow(data, space)),
        parsed=_largest(own, xyz_to_lab(parsed_xyz(profile, shares), D50)),
    )


def _largest(one, other):
    return float(delta_e_2000(one, other).max())


def _through_pillow(data, space):
    """The engine's and Pillow's L*a*b* of the 8-bit picture that Pillow makes of a file."""
    image = Image.open(BytesIO(data)).convert("RGB")
    profile = ImageCms.ImageCmsProfile(BytesIO(image.info["icc_profile"]))
    convert = ImageCms.buildTransform(
        profile, ImageCms.createProfile("LAB"), "RGB", "LAB",
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
    )  # fmt: skip
    coded = np.asarray(ImageCms.applyTransform(image, convert))
    found = coded[..., 0] * (100 / 255), coded[..., 1].view(np.int8), coded[..., 2].view(np.int8)
    own = xyz_of(np.asarray(image), space) @ bradford(xy_to_xyz(D65), D50).T
    return xyz_to_lab(own, D50), np.stack(found, axis=-1)
