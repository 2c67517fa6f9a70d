"""Raw originals: LibRaw unpacks them, their camera and facts are read, and they are developed."""

import io

from grading.develop import develop
from grading.develop.counts import ORIENTATIONS, active
from grading.develop.libraw import libraw, libraw_version
from grading.errors import OriginalError
from grading.files.integrity.dng import check_codes, check_extent
from grading.files.limits import check_size
from grading.files.metadata.dngtags import black_levels, noise_profile
from grading.files.metadata.exif import capture_facts, carried_exif, read_exif
from grading.files.metadata.tifftags import read_pictures
from grading.files.originals.cameras import read_colours
from grading.files.originals.lens import stated_optics
from grading.files.originals.unpacking import unpacked
from grading.frame import Capture, Facts, Frame


class NotRaw(OriginalError):
    """LibRaw does not know what it is, or cannot read it."""


def open_raw(path, data, max_pixels):
    """Open a raw original through LibRaw.

    Parameters
    ----------
    path : Path
        The file.
    data : bytes-like
        Its content.
    max_pixels : int
        A picture of more is refused before it is unpacked.

    Returns
    -------
    Frame
        Pixels are camera RGB in the camera's own levels: black 0, white level 1. Those of a
        monochrome sensor are three equal channels, and its camera is None.

    Raises
    ------
    OriginalError
        If LibRaw cannot read it, or what it reads is no picture.
    """
    rawpy = libraw()
    directories, pictures = read_exif(data), read_pictures(data)
    check_extent(data, pictures)
    try:
        raw, counts = _readable(data, pictures, max_pixels)
        with raw:
            check_size(raw.sizes.raw_width, raw.sizes.raw_height, max_pixels, len(data))
            codes = raw.raw_image_visible if counts is None else active(counts, raw.sizes)
            _check_sensor(raw, codes)
            camera, colours, warnings = read_colours(raw, directories[0])
            capture = _capture(raw, directories)
            optics, lens_warnings = stated_optics(pictures, raw)
            orientation = ORIENTATIONS[raw.sizes.flip]
            decoder, pixels, noise, brightest, more_warnings = develop(
                raw, codes, colours, capture.iso, black_levels(pictures), noise_profile(pictures)
            )
    except (rawpy.LibRawError, ValueError, NotImplementedError) as error:
        raise _not_raw(path, data, _message(error)) from None
    exif, exif_warnings = carried_exif(directories)
    warnings += more_warnings + lens_warnings + exif_warnings
    facts = Facts(
        path, pixels.width, pixels.height, f"LibRaw {libraw_version()}, {decoder}",
        camera, capture, *noise, tuple(warnings), monochrome=camera is None, brightest=brightest,
        optics=optics, orientation=orientation,
    )  # fmt: skip
    return Frame(facts, pixels, exif)


def _not_raw(path, data, reason):
    if b"\0" not in bytes(data[:1024]):
        return NotRaw("a text, and no picture", allowed="raw files, JPEG, TIFF and PNG")
    is_dng = path.suffix.lower() == ".dng"
    return NotRaw(
        f"LibRaw cannot read it as a raw file ({reason})",
        allowed="raw files that LibRaw supports, JPEG, TIFF and PNG",
        remedy="copy it again from the card"
        if is_dng
        else "check that the file is whole, or convert it to DNG",
    )


def _readable(data, pictures, max_pixels):
    """The raw as LibRaw reads it, and its counts where LibRaw is not given them."""
    file, counts = unpacked(data, pictures, max_pixels)
    if file is None:
        check_codes(data, pictures)
        file = io.BytesIO(data)
    return libraw().imread(file), counts


def _message(error):
    text = error.args[0] if error.args else str(error)
    return text.decode("utf-8", "replace") if isinstance(text, bytes) else str(text)


def _check_sensor(raw, codes):
    if raw.num_colors not in (1, 3, 4):
        raise OriginalError(
            f"the sensor has {raw.num_colors} colours", allowed="sensors of 1, 3 or 4 colours"
        )
    black, white = max(raw.black_level_per_channel), raw.white_level
    if not 0 <= black < white:
        raise OriginalError(
            f"impossible levels: black {black}, white {white}",
            allowed="a black level below the white level",
            remedy="convert the file again; its level tags are wrong",
        )
    codes = codes[..., : raw.num_colors] if codes.ndim == 3 else codes
    some = codes[::41, ::37]
    if some.min() == some.max() and codes.min() == codes.max():
        raise OriginalError(
            f"all raw values are {codes.min()}: the file holds no picture",
            remedy="copy it again from the card",
        )


def _capture(raw, directories):
    """Facts from the EXIF block; from LibRaw where the file has none that we can read."""
    capture = capture_facts(directories)
    if directories[1]:
        return capture
    other, time = raw.other, raw.other.timestamp
    return Capture(
        make=capture.make,
        model=capture.model,
        lens=raw.lens.model or None,
        time=time.isoformat() if time.year > 1970 else None,
        shutter=other.shutter_speed or None,
        aperture=other.aperture or None,
        iso=other.iso_speed or None,
        focal_length=other.focal_length or None,
    )
