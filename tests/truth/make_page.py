"""Write colour.md: every claim about colour, its source, and the number reached.

Run as ``PYTHONPATH=tests:demo_images python tests/truth/make_page.py``; a test holds the committed
page to what is measured.
"""

from pathlib import Path

import numpy as np

from grading.colour.difference import delta_e_2000
from grading.engine.output import RGB_SPACES
from truth import (
    blue_hour,
    calibration,
    camera_colour,
    filters,
    gamut,
    hues,
    profiles,
    spectra,
)
from truth.neighbour import neighbour

PAGE = Path(__file__).with_name("colour.md")

TITLE = """# Colour that can be proved

Every number here is measured by the code in this folder, on pictures that went through the whole
engine; `pytest -m truth` holds the claims, and the numbers of this page, to what it finds. Colour
differences are CIEDE2000 unless stated otherwise."""

FORMULAE = """## The yardsticks

Before anything is measured: CIEDE2000 against the 34 pairs of G. Sharma, W. Wu and E. N. Dalal,
Color Research and Application 30 (2005), table 1 (the 14th lies on a discontinuity and may come
out as the 15th), and our rendering of the CSS method against published values of it."""

CAMERA = """## Raw to colour

Spectra of 24 patches (ISO 17321-1) and measured sensitivities of two cameras, as colour-science
carries them, give a raw file under each light. Its two matrices (A and D65) are fitted to 30
*other* surfaces (its set PMC). The file is developed with nothing but white balance and exposure
and compared, in 16-bit codes, with the colours of the spectra (CIE 1931 observer, adapted to D65
by CAT16).
*Least*: the mean of the best of all 3x3 matrices, fitted on the 24 judged patches themselves.
*Calibrated*: the mean of a matrix that was calibrated under that very light on the 30 others.
*As shot* and *stated*: ours, mean and worst; balanced by the camera's neutral, and by the true
kelvin and Duv of the light.

Claims: with camera 1, both ways are within 0.3 of the least mean under daylights and A; with
either camera, as shot is within 0.3 of the calibrated mean under these lights."""

LEDS = """Under LEDs this does not hold, and cannot: two matrices for A and D65 do not tell where a
camera sees the white of an LED. Its true kelvin and Duv leave the cast in the last column; the
as-shot white, or a sampled grey, leaves none. A calibration under the light itself is what
brings the rest (from *as shot* to *calibrated*)."""

THIRD = """A raw file can carry a third calibration (DNG specification 1.6). Here it is made under
LED-B3, the middle one of LED-B1 to B5, on the same 30 surfaces as the other two, and the file
states its light as x, y. The specification does not say how three are weighed; here the third
counts around its own light, as far as the tolerance of lamps, and the other two elsewhere.

Claims: with camera 1, both ways are within 0.3 of the least mean under daylights, A and that LED;
with either camera, as shot is within 0.3 of the calibrated mean under these lights. Camera 2, of
a layered sensor, misses the least by about 0.3 even where it is calibrated.

The last rows are the price. A thermal light of the temperature of that LED, and LED-V2, have
nearly its chromaticity: no kelvin and Duv tells them from it, so when stated they are taken for
it. As shot they are not; with camera 1 they stay within 0.3 of the least mean. *With two*: the
means without the third calibration."""

BLUE = """## The blue hour

Light bluer than D65, the bluer of two calibrations. The specification keeps the matrix of D65
there (*before*); here the change from A to D65 goes on towards the light, by a rule with two
numbers that were chosen on simulated cameras. Judged on surfaces that no matrix was fitted on: the
99 of CIE 224:2017, and measured averages of a chart of 24 patches. *Calibrated* is the mean with
a matrix made under the very light; *before* and *now* say how much more than that it is, as shot.
The skies are sunlight scattered by air, one of them through ozone; the lamps read as bluer than
D65 to both cameras. *Cast*: of a grey when the light's true kelvin and Duv are stated.

Claims: as shot stays within 0.2 of calibrated up to daylight of 20000 K for both cameras, and no
lamp gets worse by more than 0.1. Stated daylight leaves a cast under 0.5 with camera 1. With
camera 2 it leaves what it left: two matrices do not say where its layered sensor sees daylight,
and 1 % of a channel is a cast of 4 there. A sampled grey or the as-shot white leaves none."""

PLACES = """Camera 1 with each LED as the light of the third calibration: the largest excess of the
mean over the least, among daylights, A and the LED itself. Claim: within 0.3, but for LED-B4,
which lies so close to D50 that a stated D50 is taken for it."""

GREY = """## Grey stays grey

A spectrally flat grey under each of the lights, in the finished 16-bit file and, decoded again,
in the 8-bit JPEG. Claims: within 0.3 of neutral when balanced as shot or by a sampled place;
as shot, sampled, and the same light stated as kelvin and Duv agree within a quarter of an 8-bit
code in every pixel. The numbers are the largest over the lights."""

CHART = """## Calibrated on a chart

A raw file of a chart that is tilted, vignetted by some per cent, under flare, a little blurred and
noisy, through `grading calibrate`. The chart's patches are spectra (the average of 30 charts, as
colour-science carries it); the fit knows the published colours only. The matrix is judged on the
99 surfaces of CIE 224:2017, which are not on the chart, and on their colours by day (D50), whatever
the light is.
*File*: the mean by the file's matrices for A and D65. *Chart*: by the matrix of the photograph.
*Own*: by a matrix that was calibrated under that very light, without a photograph, on 30 other
surfaces of known spectra. All are balanced on the camera's own white.

Claims: the chart's mean is within 0.3 of *own*, and never above that of the file by more than 0.1.
What remains is not the fit's: an LED, or the sensor, makes surfaces look alike that are not."""

CHART_PAIR = """The mean difference between what the two cameras make of these surfaces. Claim: the
chart brings them nearer to each other, or leaves them within 0.1 of where they were. Camera 2, of
a layered sensor, sees too differently for a matrix to do more."""

FILTERS = """## Mired

Shifts of conversion filters from handbooks of photographic filters (from memory) beside the
distance of the two temperatures and what a grey in the output moved by. Claim: within 0.1 mired.
`shift` moves the picture from D65, as a taste, not the light of the scene: a light balanced for
the wrong temperature and then shifted back keeps the cast in the last column. To correct a light,
state its kelvin."""

HUE = """## Hue

Colours of even lightness, chroma and Oklab hue through recipes that change tone or chroma.
Claim: within 1 degree wherever input and output fit into the output's space."""

WINDOWS = """Tints and windows on hue, claims and numbers (Oklab, degrees); the renotation chips are
those of S. M. Newhall, D. Nickerson and D. B. Judd, JOSA 33 (1943), of chroma 4 and above."""

GAMUT = """## Out of gamut

Colours on a lattice through BT.2020 that the destination cannot show, beside the method of W3C
CSS Color 4 (binary search with local clip). Turns in degrees of Oklab hue, the rest in Oklab and
linear light. Claims: hue within 2 degrees, lightness within 0.001, no step at the boundary, and
in the mean no more chroma given up beyond CSS than its just noticeable difference of 0.02. A lead
of one channel over another may turn into the opposite only while it is small: lines of even hue
bend in RGB, for CSS as for us."""

BLUES = """Sweeps through saturated blues. Claims: lightness never falls by more than 0.0005, no two
neighbours come out equal. *Stretch* is the largest ratio of a step to the step it came from,
*bend* the largest change between steps as a share of the input's longest step; the edges of a
gamut are kinks for any method that keeps hue, and ours are within 1.3 and 1.5 times those of
CSS."""

TEAR = """Beside the hue of the blue of sRGB, and of BT.2020, lines of even hue and lightness leave
the gamut and come back, so that the last colour on a line would jump from one hue to the next. The
boundary is evened out there. Claim: no step above 0.002 between colours whose hues are 0.01
degrees apart, searched for around the circle at chroma 0.32. Largest steps, in Oklab:"""

PROFILES = """## Profiles

A chart in a finished file, read from its bytes alone. Claim: LittleCMS (in floating point) and a
plain reading of the profile's curve and matrix (ICC.1:2022) agree with our own numbers within
0.1. Pillow converts to 8 bits of L\\*a\\*b\\*, which leaves half a code in each axis."""


def page():
    """The page as text."""
    parts = [
        TITLE,
        FORMULAE,
        _yardsticks(),
        CAMERA,
        _truth((*spectra.DAYLIGHTS, "A")),
        LEDS,
        _truth(spectra.LEDS),
        THIRD,
        _third(),
        PLACES,
        _places(),
        BLUE,
        _blue(),
        GREY,
        _greys(),
        CHART,
        _charts(),
        CHART_PAIR,
        _pairs(),
        FILTERS,
        _filters(),
        HUE,
        _kept(),
        WINDOWS,
        _windows(),
        GAMUT,
        _mapping(),
        BLUES,
        _sweeps(),
        TEAR,
        _tears(),
        PROFILES,
        _profiles(),
    ]
    return "\n\n".join(parts) + "\n"


def _table(header, rows):
    """A Markdown table; the first column to the left, the others to the right."""
    lines = [header, ["---"] + ["---:"] * (len(header) - 1), *rows]
    return "\n".join("| " + " | ".join(map(str, line)) + " |" for line in lines)


def _yardsticks():
    pairs = neighbour("colour/test_difference.py").PAIRS
    found = delta_e_2000(pairs[:, :3], pairs[:, 3:6])
    plain = np.arange(len(pairs)) != 13
    largest = np.abs(found - pairs[:, 6])[plain].max()
    rows = [
        ("CIEDE2000, published to 0.0001", f"{largest:.5f}"),
        ("CSS gamut mapping, published to 0.001 %", f"{gamut.reference_error():.4f} %"),
    ]
    return _table(("Yardstick", "Largest deviation"), rows)


def _truth(lights):
    header = (
        "Light", "Camera", "Kelvin", "Duv", "Least", "Calibrated",
        "As shot", "worst", "Stated", "worst", "Cast of grey, stated",
    )  # fmt: skip
    rows = []
    for number in spectra.CAMERAS:
        for name in lights:
            t = camera_colour.measure_truth(number, name)
            errors = t[4:]
            rows.append((name, number, f"{t.kelvin:.0f}", f"{t.duv:+.4f}", *map(_two, errors)))
    return _table(header, rows)


def _third():
    header = (
        "Light", "Camera", "Kelvin", "Duv", "Least", "Calibrated", "As shot", "worst", "Stated",
        "worst", "Cast of grey, stated", "With two: as shot", "stated",
    )  # fmt: skip
    rows = []
    for number in spectra.CAMERAS:
        for name in (*spectra.DAYLIGHTS, "A", spectra.THIRD, *spectra.ALIKE):
            t = camera_colour.measure_truth(number, name, spectra.THIRD)
            pair = camera_colour.measure_truth(number, name)
            numbers = (*t[4:], pair.as_shot_mean, pair.stated_mean)
            rows.append((name, number, f"{t.kelvin:.0f}", f"{t.duv:+.4f}", *map(_two, numbers)))
    return _table(header, rows)


def _places():
    rows = []
    for name in spectra.LEDS:
        as_shot, stated = camera_colour.excess(1, name)
        rows.append((name, _two(as_shot), _two(stated)))
    return _table(("Third calibration", "As shot", "Stated"), rows)


def _blue():
    header = (
        "Light", "Camera", "Calibrated, 99", "before", "now", "Calibrated, 24", "before", "now",
        "Cast, before", "now",
    )  # fmt: skip
    return _table(header, list(blue_hour.rows()))


def _two(value):
    return f"{value:.2f}"


def _greys():
    rows = []
    for number in spectra.CAMERAS:
        greys = [camera_colour.measure_grey(number, name) for name in spectra.LIGHTS]
        columns = list(zip(*greys, strict=True))[2:]
        *casts, step = [max(column) for column in columns]
        rows.append((f"camera {number}", *map(_two, casts), _two(step / 257)))
    header = (
        "", "As shot, 16 bit", "As shot, JPEG", "Sampled, 16 bit", "Sampled, JPEG",
        "Largest difference, 8-bit codes",
    )  # fmt: skip
    return _table(header, rows)


def _charts():
    header = ("Light", "Camera", "File", "Chart", "Own", "On the chart: file", "chart")
    rows = []
    for number in spectra.CAMERAS:
        for name in calibration.LIGHTS:
            c = calibration.measure_calibration(number, name)
            rows.append((name, number, *map(_two, c)))
    return _table(header, rows)


def _pairs():
    rows = [(name, *map(_two, calibration.disagreement(name))) for name in calibration.LIGHTS]
    return _table(("Light", "By their files", "By the chart"), rows)


def _filters():
    rows = []
    for name, (source, target, _) in filters.FILTERS.items():
        s = filters.measure_filter(name)
        row = (f"{source} to {target} K ({name})", f"{s.published:+d}", f"{s.exact:+.1f}")
        rows.append((*row, f"{s.moved:+.1f}", _two(s.cast)))
    return _table(("Filter", "Published", "Distance", "Moved", "Cast left"), rows)


def _kept():
    kept = [hues.measure_kept(name) for name in hues.KEEPING]
    rows = [(k.recipe, f"{k.turn:.2f}", f"{100 * k.judged:.0f} %") for k in kept]
    return _table(("Recipe", "Largest turn, degrees", "Colours that fit"), rows)


def _windows():
    toning, windows, families = (
        hues.measure_toning(),
        hues.measure_windows(),
        hues.measure_families(),
    )
    rows = [
        ("Three equal tints are even over all tones (below 0.0001)", f"{toning.uneven:.5f}"),
        ("Opposite tints cancel where `balance` says (below 0.0001)", f"{toning.unbalanced:.5f}"),
        ("A window does the same anywhere on the circle (below 0.1)", f"{windows.seam:.2f}"),
        (
            f"Steepest stretch of hue; by the window's shape {windows.expected_stretch:.2f}",
            _two(windows.stretch),
        ),
        ("What a window does to a grey (below 0.0001)", f"{windows.grey:.5f}"),
        (
            "Chips on which the window of their own family weighs most, steps 2.5 to 7.5",
            f"{100 * families.inner:.1f} %",
        ),
        (
            f"The same of all {families.chips}, with step 10, which lies between families",
            f"{100 * families.all_steps:.1f} %",
        ),
    ]
    return _table(("Claim", "Reached"), rows)


def _mapping():
    rows = []
    for space in gamut.NARROWER:
        m = gamut.measure_mapping(space)
        rows.append((
            space, f"{100 * m.outside:.0f} %", _two(m.turn), _two(m.css_turn),
            f"{m.lightness:.4f}", f"{m.css_lightness:.4f}", f"{m.chroma_to_css:+.3f}",
            _two(m.reversed_lead), _two(m.css_reversed_lead), _two(gamut.boundary_stretch(space)),
        ))  # fmt: skip
    header = (
        "Destination", "Outside", "Turn", "CSS", "Lightness", "CSS", "Chroma beside CSS",
        "Largest lead reversed", "CSS", "Stretch at the boundary",
    )  # fmt: skip
    return _table(header, rows)


def _sweeps():
    rows = []
    for space in gamut.NARROWER:
        for name in gamut.blues():
            s = gamut.measure_sweep(name, space)
            numbers = (s.stretch, s.css_stretch, s.bend, s.css_bend, s.input_bend)
            rows.append((f"{name}, {space}", f"{s.backward:.4f}", s.run, *map(_two, numbers)))
    header = (
        "Sweep", "Fall of lightness", "Longest run of equals", "Stretch", "CSS", "Bend", "CSS",
        "Input",
    )  # fmt: skip
    return _table(header, rows)


def _tears():
    rows = []
    for space in RGB_SPACES:
        j = gamut.measure_jump(space)
        place = f"L {j.lightness:.2f}, {j.degrees:.1f} degrees"
        rows.append((space, f"{j.step:.4f}", place, f"{j.elsewhere:.4f}", f"{j.css:.4f}"))
    header = ("Destination", "Step", "Where", "More than a degree away", "CSS, within ten degrees")
    return _table(header, rows)


def _profiles():
    rows = []
    for file_format in profiles.FILES:
        for space in RGB_SPACES:
            p = profiles.measure_profile(file_format, space)
            numbers = (f"{p.littlecms:.3f}", f"{p.parsed:.3f}", _two(p.pillow))
            rows.append((f"{file_format}, {space}", *numbers))
    return _table(("File", "LittleCMS", "Curve and matrix", "Pillow, 8 bit"), rows)


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
