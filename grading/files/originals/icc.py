"""Pictures through their embedded ICC profile into the working light.

Profiles of three curves and a matrix (and grey ones of one curve) become a table and a 3x3
matrix, exact for 16-bit pictures. Profiles with multi-dimensional tables go through LittleCMS
in floating point. Formats: ICC.1:2022, clauses 7 to 10.
"""

import struct
from functools import partial

import numpy as np

from grading import kernels
from grading.colour import transfer
from grading.colour.adaptation import bradford
from grading.colour.spaces import SPACES, WORKING, rgb_to_rgb, rgb_to_xyz, xyz_to_rgb
from grading.errors import OriginalError
from grading.files.limits import check_profile

# ICC.1:2022, 7.2.16: the illuminant of the profile connection space, as it is encoded.
_D50 = np.array([0xF6D6, 0x10000, 0xD32D]) / 65536
_TABLE_TAGS = (b"A2B0", b"A2B1", b"D2B0", b"D2B1")
_LARGEST = 16.0  # of a curve's values; sound ones reach 1 or little more
_PARAMETRIC_COUNTS = (1, 3, 4, 5, 7)


def srgb_light(depth):
    """Function from sRGB code values to the working light (see :func:`profile_light`)."""
    curve = transfer.decode(SPACES["srgb"].transfer, _codes(depth))
    return _matrix_light([curve] * 3, rgb_to_rgb(SPACES["srgb"], WORKING))


def profile_light(profile, depth, grey):
    """Function from code values to the working light through a profile.

    Parameters
    ----------
    profile : bytes
        ICC profile.
    depth : {8, 16}
        Bits of a code value.
    grey : bool
        Whether the picture has one channel (repeated in the three).

    Returns
    -------
    callable
        Takes code values, shape (3, h, w), uint8 or uint16; returns linear ITU-R BT.2020,
        float32, of the same shape.

    Raises
    ------
    OriginalError
        If the profile is damaged, too large, or made for another kind of picture.
    """
    check_profile(len(profile))
    space, tags = _read_tags(profile)
    if space != (b"GRAY" if grey else b"RGB "):
        raise OriginalError(
            f"the embedded profile is for {space.decode('latin-1').strip()} pictures",
            allowed="a grey profile" if grey else "an RGB profile",
            remedy="export the picture again with a fitting profile",
        )
    try:
        if grey:
            return _matrix_light([_curve(tags[b"kTRC"], depth)] * 3, np.eye(3))
        if any(name in tags for name in _TABLE_TAGS):
            return _littlecms_light(profile)
        curves = [_curve(tags[name], depth) for name in (b"rTRC", b"gTRC", b"bTRC")]
        colorants = np.stack([_xyz(tags[n]) for n in (b"rXYZ", b"gXYZ", b"bXYZ")], axis=1)
    except (KeyError, IndexError, ValueError, struct.error) as error:
        raise _damaged(f"its tag {error}") from None
    to_working = xyz_to_rgb(WORKING) @ bradford(_D50, rgb_to_xyz(WORKING).sum(axis=1))
    return _matrix_light(curves, to_working @ colorants)


def _matrix_light(curves, matrix):
    curves = np.stack(curves)
    if not (np.abs(curves) <= _LARGEST).all():
        raise _damaged("a curve")
    return partial(_light, curves.astype(np.float32), matrix.astype(np.float32))


def _light(curves, matrix, codes):
    """Curves by table, then the matrix."""
    linear = np.empty(codes.shape, np.float32)
    for curve, plane, out in zip(curves, codes, linear, strict=True):
        np.take(curve, plane, out=out)
    return kernels.light.mix(linear, matrix)


def _littlecms_light(profile):
    """Conversion by LittleCMS, relative colorimetric, to a linear profile of the working light."""
    import imagecodecs

    working = imagecodecs.cms_profile(
        "rgb", whitepoint=WORKING.white, primaries=np.ravel(WORKING.primaries), gamma=1.0
    )

    def light(codes):
        pixels = np.ascontiguousarray(codes.transpose(1, 2, 0))
        try:
            linear = imagecodecs.cms_transform(
                pixels, profile, working, colorspace="rgb", outcolorspace="rgb",
                outdtype=np.float32, intent=1,
            )  # fmt: skip
        except (RuntimeError, ValueError) as error:
            raise _damaged(str(error)) from None
        return np.ascontiguousarray(linear.transpose(2, 0, 1))

    light(np.zeros((3, 1, 1), np.uint8))
    return light


def _read_tags(profile):
    """Data colour space, and a dict from tag signature to content."""
    if len(profile) < 132 or profile[36:40] != b"acsp":
        raise _damaged("its header")
    tags = {}
    count = struct.unpack_from(">I", profile, 128)[0]
    for i in range(min(count, (len(profile) - 132) // 12)):
        name, offset, size = struct.unpack_from(">4sII", profile, 132 + 12 * i)
        tags[name] = profile[offset : offset + size]
    return profile[16:20], tags


def _damaged(what):
    return OriginalError(
        f"the embedded colour profile cannot be read ({what})",
        allowed="a sound ICC profile, or none (taken as sRGB)",
        remedy="export the picture again with a sound profile",
    )


def _codes(depth):
    return np.linspace(0, 1, 1 << depth)


def _xyz(content):
    return np.array(struct.unpack_from(">3i", content, 8)) / 65536


def _curve(content, depth):
    """Linear values of all codes of a curveType or parametricCurveType tag, float64."""
    codes = _codes(depth)
    if content[:4] == b"para":
        kind = struct.unpack_from(">H", content, 8)[0]
        count = _PARAMETRIC_COUNTS[kind]
        parameters = np.array(struct.unpack_from(f">{count}i", content, 12)) / 65536
        return _parametric(codes, kind, parameters)
    if content[:4] != b"curv":
        raise _damaged("a curve")
    count = struct.unpack_from(">I", content, 8)[0]
    if count == 0:
        return codes
    values = np.frombuffer(content, ">u2", count, 12).astype(np.float64)
    if count == 1:
        return codes ** (values[0] / 256)
    return np.interp(codes, np.linspace(0, 1, count), values / 65535)


def _parametric(x, kind, parameters):
    """Parametric curve (a x + b) ** gamma + e where x >= d, else c x + f; ICC.1:2022, table 68."""
    gamma, a, b, c, d, e, f = np.append(parameters, np.zeros(7 - len(parameters)))
    if kind == 0:
        a = 1.0
    elif kind in (1, 2):
        c, d, e, f = 0.0, -b / (a or np.inf), c, c
    with np.errstate(all="ignore"):  # what a damaged curve gives is found by its values
        return np.where(x >= d, np.maximum(a * x + b, 0) ** gamma + e, c * x + f)
