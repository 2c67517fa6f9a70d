"""The light of the evening, as spectra and as luminances.

A pixel's spectrum is a sum of illuminant x reflectance products. Reflectances are mixtures of
the three smooth basis spectra of Mallett & Yuksel (Eurographics Symposium on Rendering 2019),
so a surface is stated by three linear sRGB weights; each light is one spectrum of luminance 1.
`Sensor.seen_under` integrates the products with the camera once a frame, and the painting is
then plain arithmetic on camera RGB.
"""

from dataclasses import dataclass, field

import colour
import numpy as np

SHAPE = colour.SpectralShape(380, 780, 5)
OBSERVER = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(SHAPE).values
BASIS = colour.recovery.MSDS_BASIS_FUNCTIONS_sRGB_MALLETT2019.copy().align(SHAPE).values
ZENITH_KELVIN = 24000.0


@dataclass(frozen=True)
class Evening:
    """The light at one moment; luminances in cd/m2, angles as tangents seen from the boat.

    Attributes
    ----------
    kelvin, duv : float
        Correlated colour temperature of the ambient daylight and its distance from the
        Planckian locus (CIE 1960 uv).
    altitude : float
        Sun above the horizon, degrees.
    ambient : float
        Luminance of a white diffuser under the sky alone.
    sun : float
        Luminance of a white diffuser turned to the sun; 0 once it has set.
    minutes : float
        Since the first frame; lamps and windows have their own times.
    lights : dict of str to ndarray, shape (3, 3)
        Camera RGB of each reflectance basis spectrum under each light.
    """

    kelvin: float
    duv: float
    altitude: float
    ambient: float
    sun: float
    minutes: float
    lights: dict = field(repr=False)

    @property
    def dusk(self):
        """0 while the sun is up, 1 in the blue hour."""
        t = np.clip((ALTITUDES[0] - self.altitude) / 5.2, 0, 1)
        return float(t * t * (3 - 2 * t))

    def white(self, name):
        """Camera RGB of a white diffuser of luminance 1 under one light, shape (3,)."""
        return self.lights[name].sum(axis=1)

    def shade(self, albedo, **irradiance):
        """Camera RGB of a matt surface.

        Parameters
        ----------
        albedo : array_like, shape (..., 3)
            Linear sRGB weights of the reflectance.
        **irradiance : array_like, shape (...)
            For each light, the luminance of a white diffuser in the surface's place.
        """
        albedo = np.asarray(albedo, np.float32)
        return sum(
            np.asarray(level, np.float32)[..., None] * (albedo @ self.lights[name].T)
            for name, level in irradiance.items()
        )


def evening(minutes, sensor):
    """The light `minutes` after the first frame, as `sensor` sees it."""
    altitude = ALTITUDES[0] + (ALTITUDES[1] - ALTITUDES[0]) * minutes / DURATION
    daylight = twilight_illuminance(altitude)
    fall = np.log2(twilight_illuminance(ALTITUDES[0]) / daylight)
    kelvin = 1e6 / np.interp(fall, (0, 6), (1e6 / 5500, 1e6 / 12000))
    ambient = daylight_spectrum(kelvin)
    spectra = {"ambient": ambient, **_STEADY}
    uv = colour.xy_to_UCS_uv(colour.XYZ_to_xy(ambient @ OBSERVER))
    _, duv = colour.temperature.uv_to_CCT_Ohno2013(uv)
    return Evening(
        kelvin=float(kelvin),
        duv=float(duv),
        altitude=float(altitude),
        ambient=float(daylight / np.pi),
        sun=float(daylight / np.pi * 1.1 * np.clip(altitude / ALTITUDES[0], 0, 1) ** 0.7),
        minutes=minutes,
        lights={name: sensor.seen_under(spectrum) for name, spectrum in spectra.items()},
    )


def twilight_illuminance(altitude):
    """Illuminance on the ground in lux under a clear sky.

    Janiczek & DeYoung, United States Naval Observatory Circular 171 (1987), from memory; its
    pieces meet at their ends to better than 1 %.

    Parameters
    ----------
    altitude : float
        Altitude of the sun, -12 to 5 degrees.
    """
    x = altitude / 90
    if altitude >= -0.8:
        exponents = (2.88, 22.26, -207.64, 1034.30)
    elif altitude >= -5:
        exponents = (2.88, 21.81, -258.11, -858.36)
    else:
        exponents = (2.70, 12.17, -431.69, -1899.83)
    return 10 ** np.polynomial.polynomial.polyval(x, exponents)


def daylight_spectrum(kelvin):
    """CIE D-series daylight of luminance 1 (CIE 15), 380 to 780 nm by 5 nm."""
    xy = colour.temperature.CCT_to_xy_CIE_D(kelvin)
    return _unit_luminance(colour.sd_CIE_illuminant_D_series(xy))


def _unit_luminance(distribution):
    values = distribution.copy().align(SHAPE).values
    return values / (values @ OBSERVER[:, 1])


def blackbody_spectrum(kelvin):
    """Planckian radiator of luminance 1, 380 to 780 nm by 5 nm."""
    return _unit_luminance(colour.sd_blackbody(kelvin, SHAPE))


def _narrow(peak, width):
    return _unit_luminance(colour.sd_gaussian(peak, width, SHAPE, method="FWHM"))


DURATION = 50.0
ALTITUDES = (1.6, -4.15)
_STEADY = {
    "zenith": daylight_spectrum(ZENITH_KELVIN),
    "ember": blackbody_spectrum(1900),
    "glow": blackbody_spectrum(2900),
    "sun": blackbody_spectrum(3300),
    "candle": blackbody_spectrum(2200),
    "tungsten": blackbody_spectrum(2550),
    "sodium": _unit_luminance(colour.SDS_ILLUMINANTS["HP1"]),
    "warm_led": _unit_luminance(colour.SDS_ILLUMINANTS["LED-B1"]),
    "cool_led": _unit_luminance(colour.SDS_ILLUMINANTS["LED-B4"]),
    "tube": _unit_luminance(colour.SDS_ILLUMINANTS["FL11"]),
    "red": _narrow(630, 22),
    "green": _narrow(520, 34),
}
