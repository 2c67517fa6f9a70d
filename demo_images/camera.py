"""An invented camera: what it sees of a spectrum, how it meters, and what its sensor records."""

from dataclasses import dataclass

import colour
import numpy as np

from dng import mosaic_of
from light import BASIS, OBSERVER, SHAPE, daylight_spectrum

WHITE, BLACK = 16383, 512
FULL_WELL = 52000.0  # electrons at ISO 100
READ_ELECTRONS, CONVERTER_NOISE = 2.4, 1.6  # before the gain (electrons), after it (raw units)
PATTERN = "RGGB"


@dataclass(frozen=True)
class Settings:
    """Shutter in seconds, f-number, ISO speed."""

    shutter: float
    aperture: float
    iso: int

    @property
    def exposure(self):
        """Share of saturation for a luminance of 1 cd/m2.

        A metered luminance (K = 12.5, ISO 2720) lands at 12.7 % of saturation (ISO 12232).
        """
        return 0.127 / 12.5 * self.shutter * self.iso / self.aperture**2

    @property
    def gain(self):
        """Raw units an electron."""
        return (WHITE - BLACK) / (FULL_WELL * 100 / self.iso)

    @property
    def read_noise(self):
        """Standard deviation of the signal-free noise, raw units."""
        return float(np.hypot(READ_ELECTRONS * self.gain, CONVERTER_NOISE))


class Sensor:
    """Spectral sensitivities, scaled so that daylight D65 of luminance 1 gives green 1."""

    def __init__(self):
        measured = next(
            data for data in colour.MSDS_CAMERA_SENSITIVITIES.values() if data.shape.interval == 5
        )
        values = np.clip(measured.copy().align(SHAPE).values, 0, None)
        self.sensitivities = values / (daylight_spectrum(6504) @ values[:, 1])

    def response(self, spectra):
        """Camera RGB of spectra, shape (..., 81) to (..., 3)."""
        return spectra @ self.sensitivities

    def seen_under(self, light):
        """Camera RGB of each reflectance basis spectrum under a light.

        Returns
        -------
        ndarray, shape (3, 3), float32
            Rows camera R, G, B; columns the basis spectra.
        """
        return self.response(BASIS.T * light).T.astype(np.float32)

    def color_matrix(self, light):
        """Least-squares CIE XYZ to camera RGB under a light, exact for its white.

        Fitted to the reflectances of ISO 17321-1.
        """
        training = colour.SDS_COLOURCHECKERS["ISO 17321-1"].values()
        spectra = np.array([patch.copy().align(SHAPE).values for patch in training]) * light
        xyz, rgb = spectra @ OBSERVER, self.response(spectra)
        white_xyz, white_rgb = light @ OBSERVER, self.response(light)
        rgb, importance = rgb / white_rgb, xyz[:, 1:2] ** -0.5
        # Each row sums to the white's tristimulus value, so only differences of channels are free.
        free = np.linalg.lstsq(
            (rgb[:, :2] - rgb[:, 2:]) * importance,
            (xyz - rgb[:, 2:] * white_xyz) * importance,
            rcond=None,
        )[0].T
        to_xyz = np.column_stack([free, white_xyz - free.sum(axis=1)])
        return np.linalg.inv(to_xyz / white_rgb) / white_rgb[1] * white_xyz[1]


def record(rgb, settings, rng):
    """Raw mosaic of a picture: shot noise, read noise, saturation, 14 bits.

    Parameters
    ----------
    rgb : ndarray, shape (rows, columns, 3), float32
        Camera RGB in cd/m2.
    settings : Settings
    rng : numpy.random.Generator

    Returns
    -------
    ndarray, shape (rows, columns), uint16
    """
    electrons = mosaic_of(rgb, PATTERN) * (settings.exposure * (WHITE - BLACK) / settings.gain)
    electrons = rng.poisson(np.clip(electrons, 0, 4 * FULL_WELL))
    noise = rng.normal(0, settings.read_noise, electrons.shape)
    return np.clip(np.rint(electrons * settings.gain + noise + BLACK), 0, WHITE).astype(np.uint16)


def metered(rgb):
    """Luminance that the meter aims for: mean of the frame, lights held to 8 times the median."""
    green = rgb[..., 1]
    return float(np.minimum(green, 8 * np.median(green)).mean())


def automatic_neutral(evening, sensor, rng):
    """Camera RGB that an automatic white balance takes for neutral, largest channel 1.

    It finds the ambient light only partly, leans towards 5200 K, and wanders from frame to frame.
    """
    mired = 0.55 * 1e6 / evening.kelvin + 0.45 * 1e6 / 5200 + rng.normal(0, 7)
    tint = np.array([1, 1 + rng.normal(0, 0.015), 1])
    neutral = sensor.response(daylight_spectrum(1e6 / mired)) * tint
    return neutral / neutral.max()
