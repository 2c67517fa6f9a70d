"""An output of an earlier run, held against what this run would make."""

from grading.files import sidecar
from grading.frame import Capture
from grading.shoot.jobs import Job, Target
from grading.shoot.noise import NoiseOfRun, depends_on_others, shown_in


def what_differs(
    job: Job, target: Target, record: sidecar.Sidecar, noise_of_run: NoiseOfRun
) -> str | None:
    """What sets the recorded output of a job apart from what a run would make.

    Parameters
    ----------
    job : Job
    target : Target
        One of its own.
    record : Sidecar
        Of the earlier output.
    noise_of_run : NoiseOfRun

    Returns
    -------
    str or None
        A few words; None where the sidecar records the job's recipe, these settings, this engine
        and the original, and the frames of this run show the noise that it was made with.
    """
    if record.recipe.sha256 != job.recipe.digest:
        return "made by another recipe, or by this one before it was changed"
    if not _as_asked(record.output, target.output):
        return "made in another colour space, size, sharpness or quality"
    if record.label != target.label.as_mapping():
        return "made with another caption, mark, density, place or credits"
    if record.engine != sidecar.engine_facts():
        return "made by other versions of the engine"
    if sidecar.describe_original(job.original, target.path.parent) != record.original:
        return "made from another original, or from one in another place"
    if depends_on_others(record):
        names = {name: record.capture.get(name) for name in ("make", "model", "iso")}
        if noise_of_run.shown(job.original, Capture(**names)) != shown_in(record, target.path):
            return "made when other frames of the camera were there to show its noise"
    return None


def _as_asked(made, output):
    box = output.box and list(output.box)
    ways = output.long_edge, output.short_edge, box, output.sharpen
    asked = (output.format, output.space, *ways, made.quality and output.quality)
    stated = made.long_edge, made.short_edge, made.box, made.sharpen
    return (made.format, made.space, *stated, made.quality) == asked
