"""Jobs of one folder, as the tests of batches want them."""

from grading.engine.output import Output
from grading.shoot.jobs import jobs_in_folder, plan_jobs


def planned(recipes, folder, output=Output(), *arguments, **settings):
    """What is to be done to render originals, each by its recipe, into one folder."""
    return plan_jobs(jobs_in_folder(recipes, folder, output), *arguments, **settings)
