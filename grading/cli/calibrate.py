"""The verb that makes camera files of frames of a colour chart."""

from pathlib import Path

import click

from grading.cli.group import get_ready, main, overwrite_option
from grading.errors import GradingError
from grading.terminal import say

MADE = ("since-2014", "before-2014")
SUFFIXES = (".yaml", ".yml")


class Corners(click.ParamType):
    """Four places as fractions of the frame: ``0.2,0.3 0.8,0.3 0.8,0.7 0.2,0.7``."""

    name = "corners"

    def convert(
        self, value: str, parameter: click.Parameter | None, context: click.Context | None
    ) -> list[tuple[float, float]]:
        try:
            corners = [tuple(map(float, corner.split(","))) for corner in value.split()]
        except ValueError:
            corners = []
        inside = all(len(c) == 2 and all(0 <= each <= 1 for each in c) for c in corners)
        if not inside or len(set(corners)) != 4 or len(corners) != 4:
            self.fail(
                f"{value!r} is not four places; write x,y x,y x,y x,y in fractions of the frame's "
                "width and height",
                parameter,
                context,
            )
        return corners


class Light(click.ParamType):
    """Kelvin, and Duv after a comma: ``5200`` or ``2950,-0.004``."""

    name = "light"

    def convert(
        self, value: str, parameter: click.Parameter | None, context: click.Context | None
    ) -> tuple[float, float]:
        from grading.colour.white import default_duv, kelvin_duv_to_xy

        try:
            kelvin, *duv = map(float, value.split(","))
            light = kelvin, *(duv or [float(default_duv(kelvin))])
            kelvin_duv_to_xy(*light)
        except (TypeError, ValueError):
            self.fail(
                f"{value!r} is not a light; write kelvin, or kelvin,Duv: 1000 to 100000 kelvin, "
                "Duv -0.05 to 0.05",
                parameter,
                context,
            )
        return light


@main.command()
@click.argument(
    "frames", nargs=-1, required=True, metavar="CHART_FRAME...", type=click.Path(path_type=Path)
)
@click.option("--out", required=True, type=click.Path(path_type=Path, dir_okay=False),
              metavar="FILE", help="The camera file (.yaml); a page of its name is put beside it.")
@click.option("--corners", multiple=True, type=Corners(), metavar="'X,Y X,Y X,Y X,Y'",
              help="Outer corners of the four patches at the corners, going around, in fractions "
              "of the frame; once for each frame [found].")
@click.option("--light", "lights", multiple=True, type=Light(), metavar="KELVIN[,DUV]",
              help="The light, where it was measured or is to have the same name for two cameras; "
              "once for each frame [as the file's matrices tell it].")
@click.option("--made", type=click.Choice(MADE), default=MADE[0], show_default=True,
              help="When the chart was made: its pigments changed in November 2014.")
@overwrite_option
def calibrate(
    frames: tuple[Path, ...],
    out: Path,
    corners: tuple[list, ...],
    lights: tuple[tuple[float, float], ...],
    made: str,
    overwrite: bool,
) -> None:
    """Fit a camera's matrix to a chart of 24 patches.

    A CHART_FRAME is a raw file with the chart in it, sharp, evenly lit and not clipped. It may lie
    at any angle, also upside down. Two frames in lights of different kelvin give two matrices,
    between which the engine interpolates.

    A recipe uses the file for frames of that camera:
    white_balance: {cameras: [FILE]}. Surfaces then look as they do by day, whatever light the
    chart stood in. How near each patch comes is printed, and shown on the page.
    """
    from grading.calibrate.light import calibrate_frames
    from grading.pages.calibration import write_camera

    if len(frames) > 2:
        raise GradingError(f"{len(frames)} frames; allowed: one, or two of different light")
    for name, stated in (("--corners", corners), ("--light", lights)):
        if stated and len(stated) != len(frames):
            count = f"{len(stated)} times {name} for {len(frames)} frames"
            raise GradingError(f"{count}; state it for each of them, in their order")
    if out.suffix.lower() not in SUFFIXES:
        raise GradingError(f"{out}: a camera file ends in {' or '.join(SUFFIXES)}")
    get_ready([], [*frames], {8}, reduced=True)
    measured, reference = calibrate_frames(frames, made, corners, lights)
    page = write_camera(out, measured, reference, made, overwrite)
    for light in measured:
        _report(light, reference.names)
    say(f"{out} and {page.name} written", error=True)


def _report(light, names):
    facts = light.frame.facts
    for warning in facts.warnings:
        say(f"{facts.path}: note: {warning}", error=True)
    width = max(map(len, names)) + 2
    before, after = light.before.errors, light.after.errors
    say(
        f"{facts.path}: {facts.capture.camera}, {light.kelvin:.0f} K, Duv {light.duv:+.4f}",
        f"  {'CIEDE2000':{width}}before   after",
        *(
            f"  {name:{width}}{one:6.2f}  {other:6.2f}"
            for name, one, other in zip(names, before, after, strict=True)
        ),
        f"  {'mean':{width}}{before.mean():6.2f}  {after.mean():6.2f}",
        f"  {'worst':{width}}{before.max():6.2f}  {after.max():6.2f}",
    )
