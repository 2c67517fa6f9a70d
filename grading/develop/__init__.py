"""Raw development: from the counts of a sensor to camera light, layout by layout.

**A Bayer mosaic** stays as it was unpacked, and a tile of it is developed where it is read
(`mosaic.MosaicPixels.read`):

1. levels: black and white of each site, row and column; balance by the as-shot light (`counts`,
   `kernels.raw.mosaic`);
2. hot sites are repaired (`kernels.raw.hotpixels`);
3. highlights: clipped sites are rebuilt from the light around them (`kernels.raw.highlights` makes
   a guide of the frame when it is opened, `kernels.raw.rebuild` acts);
4. the colours that a site misses are interpolated (`demosaic`, `kernels.raw.sites`), those of
   small saturated lights once more (`kernels.raw.lights`), and the balance is taken out again.

How noisy the frame is (`noise` measures it, `noise_source` says which numbers are taken) is noted
for the stage that reduces noise.

**Another mosaic** (a 6x6 pattern, four colours) is demosaiced whole by LibRaw (`libraw`).
**Samples that need no demosaicing** (of a monochrome sensor, or of every colour at each pixel) stay
as they are. The codes of both become light where they are read (`samples.camera_light`):

1. levels;
2. highlights: a clipped channel is raised to what the others suggest (`clipped_channels`);
3. channels: four colours become three, or one becomes three (`channels`).
"""

from concurrent.futures import ThreadPoolExecutor

import numpy as np

from grading.develop import libraw
from grading.develop.counts import ORIENTATIONS, mosaic_blacks, red_site, seen
from grading.develop.mosaic import MosaicPixels
from grading.develop.noise import measure_noise
from grading.develop.noise_source import settle
from grading.develop.samples import sampled
from grading.kernels.raw.highlights import guide_of, survey_clipped
from grading.kernels.raw.mosaic import Sensor


def develop(raw, codes, colours, iso=None, stated_blacks=None, stated_noise=None):
    """Develop an unpacked raw.

    Parameters
    ----------
    raw : rawpy.RawPy
    codes : ndarray, shape (rows, columns) or (rows, columns, n), uint16
        The visible area; of a Bayer mosaic in any order of bytes.
    colours : grading.develop.channels.Colours
    iso : float or None
        The speed of the frame.
    stated_blacks, stated_noise : tuple or None
        What `black_levels` and `noise_profile` of `grading.files.metadata.dngtags` read of a DNG.

    Returns
    -------
    decoder : str
        Which path it went.
    pixels : grading.frame.Pixels
    noise : tuple
        Noise and NoiseSource of a Bayer mosaic; twice None of all else.
    brightest : float
        The brightest value; the white level is 1.
    warnings : list of str

    Raises
    ------
    OriginalError
        If LibRaw has no way to develop the mosaic.
    """
    if codes.ndim == 3:
        return _from_samples(raw, codes, colours, "linear samples")
    if raw.num_colors == 1:
        return _from_samples(raw, codes, colours, "monochrome samples")
    if _is_bayer(raw):
        return _from_bayer(raw, codes, colours, iso, stated_blacks, stated_noise)
    return _from_libraw(raw, colours)


def _is_bayer(raw):
    pattern = raw.raw_pattern
    if pattern is None or pattern.shape != (2, 2):
        return False
    return sorted(raw.color_desc[site] for site in pattern.flat) == sorted(b"RGGB")


def _from_bayer(raw, codes, colours, iso, stated_blacks, stated_noise):
    counts, corner, warnings = seen(codes, raw.sizes)
    phase, white = red_site(raw, corner), raw.white_level
    black, *line_blacks = mosaic_blacks(raw, stated_blacks, corner, phase, counts.shape)
    scale = 1 / (white - black)
    balance = np.float32(colours.neutral[1] / colours.neutral)
    mosaic = counts.astype(np.uint16, "C")  # LibRaw's own memory goes with it
    sensor = Sensor(phase, np.float32(black), np.float32(scale), *line_blacks, (0.0, 0.0))
    cells = survey_clipped(mosaic, sensor, balance)  # whatever the noise is
    with ThreadPoolExecutor(1) as beside:
        measured = beside.submit(measure_noise, mosaic, phase, black, white)
        highest = beside.submit(mosaic.max)
        highlights = None if cells is None else guide_of(cells, balance)
    noise, source = settle(measured.result(), iso, stated_noise)
    sensor = sensor._replace(noise=tuple(noise))
    brightest = float((highest.result() - black.min()) * scale.max())
    pixels = MosaicPixels(mosaic, sensor, balance, highlights, ORIENTATIONS[raw.sizes.flip])
    return "mosaic", pixels, (noise, source), brightest, warnings


def _from_samples(raw, codes, colours, decoder):
    channels = len(colours.neutral)
    codes = codes[..., :channels] if codes.ndim == 3 else codes[..., None]
    codes, _, warnings = seen(codes, raw.sizes)
    black = np.array(raw.black_level_per_channel[:channels], np.float64)
    scale = 1 / (raw.white_level - black)
    codes = codes.copy()  # LibRaw's own memory goes with it
    pixels, brightest = sampled(codes, black, scale, colours, ORIENTATIONS[raw.sizes.flip])
    return decoder, pixels, (None, None), brightest, warnings


def _from_libraw(raw, colours):
    sizes, white = raw.sizes, raw.white_level  # sizes before LibRaw resets the flip
    black = np.array(raw.black_level_per_channel[: len(colours.neutral)], np.float64)
    decoder, codes, unit = libraw.demosaic_balanced(raw, colours.neutral)
    codes, _, warnings = seen(codes, sizes)
    scale = 1 / (unit * (white - black))
    pixels, brightest = sampled(codes, black * unit, scale, colours, ORIENTATIONS[sizes.flip])
    return decoder, pixels, (None, None), brightest, warnings
