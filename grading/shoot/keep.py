"""An output of an earlier run, held against what this run would make."""

from grading.files import sidecar
from grading.shoot.jobs import Job, Target


def what_differs(job: Job, target: Target, record: sidecar.Sidecar) -> str | None:
    """What sets the recorded output of a job apart from what a run would make.

    Parameters
    ----------
    job : Job
    target : Target
        One of its own.
    record : Sidecar
        Of the earlier output.

    Returns
    -------
    str or None
        A few words; None where the sidecar records the job's recipe, these settings, this engine
        and the original.
    """
    if record.recipe.sha256 != job.recipe.digest:
        return "made by another recipe, or by this one before it was changed"
    if not _as_asked(record.output, target.output):
        return "made in another colour space, size or quality"
    if record.label != target.label.as_mapping():
        return "made with another caption, mark, density, place or credits"
    if record.engine != sidecar.engine_facts():
        return "made by other versions of the engine"
    if sidecar.describe_original(job.original, target.path.parent) != record.original:
        return "made from another original, or from one in another place"
    return None


def _as_asked(made, output):
    box = output.box and list(output.box)
    asked = output.format, output.space, output.long_edge, output.short_edge, box
    if (made.format, made.space, made.long_edge, made.short_edge, made.box) != asked:
        return False
    return made.quality in (None, output.quality)
