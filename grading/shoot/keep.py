"""An output of an earlier run, held against what this run would make."""

from grading.errors import SidecarError
from grading.files import sidecar


def what_differs(job, recipe, output):
    """What sets the output of a job apart from what a run would make.

    Parameters
    ----------
    job : Job
        Its output, or the sidecar of it, exists.
    recipe : Recipe
    output : Output

    Returns
    -------
    str or None
        A few words; None where the sidecar records this recipe, these settings, this engine and
        this original, and both files still have the recorded bits.
    """
    try:
        record = sidecar.read_sidecar(sidecar.sidecar_path(job.output))
    except SidecarError:
        return "without a sound sidecar"
    if record.recipe.sha256 != recipe.digest:
        return "made by another recipe, or by this one before it was changed"
    if not _as_asked(record.output, output):
        return "made in another colour space, size or quality"
    if record.engine != sidecar.engine_facts():
        return "made by other versions of the engine"
    return _changed_file(job, record)


def _as_asked(made, output):
    if (made.format, made.space, made.long_edge) != (output.format, output.space, output.long_edge):
        return False
    return made.quality in (None, output.quality)


def _changed_file(job, record):
    if sidecar.describe_original(job.original, job.output.parent) != record.original:
        return "made from another original, or from one in another place"
    if not job.output.is_file() or sidecar.sha256_of(job.output) != record.output.sha256:
        return "but is not what its sidecar says"
    return None
