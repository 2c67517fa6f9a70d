"""Facts and figures as a page words them."""

from grading.engine.resolve import Resolved
from grading.frame import Capture

WORTH_SAYING = 0.005
"""Share of pixels from which clipping is reported."""

NO_BREAK = "\N{NO-BREAK SPACE}"


def percent(share: float) -> str:
    """A share, 0..1, in per cent: ``12.3 %``; a share above 0 never reads as 0.

    >>> percent(0.1234), percent(1e-6)
    ('12.3 %', '< 0.01 %')
    """
    if 0 < share < 5e-5:
        return "< 0.01 %"
    if share in (0, 1):
        return f"{100 * share:g} %"
    return f"{100 * share:.{2 if share < 0.1 else 1}f} %"


def signed(value: float, digits: int) -> str:
    """A change with its sign; one that rounds to none has no sign.

    >>> signed(0.301, 2), signed(-1e-9, 2)
    ('+0.30', '0.00')
    """
    text = f"{value:+.{digits}f}"
    return text if float(text) else text[1:]


def shutter(seconds: float) -> str:
    """A shutter time as photographers write it: ``1/250 s``, ``2.5 s``.

    >>> shutter(1 / 250), shutter(2.5)
    ('1/250 s', '2.5 s')
    """
    if seconds < 0.3:
        return f"1/{1 / seconds:.0f} s"
    return f"{seconds:.2g} s" if seconds < 10 else f"{seconds:.0f} s"


def capture(facts: Capture) -> list[str]:
    """Facts of capture, those that the file states.

    Parameters
    ----------
    facts : grading.frame.Capture

    Returns
    -------
    list of str
    """
    said = [
        facts.time and facts.time[:19].replace("T", " "),
        facts.shutter and shutter(facts.shutter),
        facts.aperture and f"f/{facts.aperture:.3g}",
        facts.iso and f"ISO {facts.iso:.0f}",
        facts.focal_length and f"{facts.focal_length:.3g} mm",
    ]
    return [text.replace(" ", NO_BREAK) for text in said if text]


def illuminant(resolved: Resolved) -> str:
    """The illuminant of a resolved recipe: ``5210 K, Duv +0.0031``, or that it has none."""
    white = resolved.stages["white_balance"]
    if white.kelvin is None:
        return "as shot, without a colour temperature"
    return f"{white.kelvin:.0f} K, Duv {white.duv:+.4f}"


def clipping_warnings(clipping: dict) -> list[str]:
    """Sentences on what a picture lost at its ends, from `WORTH_SAYING` upwards.

    Parameters
    ----------
    clipping : dict
        Of a `grading.engine.execute.Picture` in sRGB.
    """
    said = []
    for end in ("white", "black"):
        channel, share = max(clipping[end].items(), key=lambda pair: pair[1])
        if share >= WORTH_SAYING:
            said.append(f"{percent(share)} of {channel} at {end}")
    if clipping["outside"] >= WORTH_SAYING:
        said.append(f"{percent(clipping['outside'])} too vivid for sRGB, made less vivid")
    return said
