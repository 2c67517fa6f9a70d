"""Clashes are found before work starts, all of them."""

from pathlib import Path

import pytest

from grading.errors import OutputError
from grading.shoot.jobs import plan_jobs


def clashes(*arguments, **settings):
    with pytest.raises(OutputError) as caught:
        plan_jobs(*arguments, **settings)
    return str(caught.value).splitlines()


@pytest.mark.parametrize(("file_format", "name"), [("jpeg", "a.b.jpg"), ("tiff", "a.b.tif")])
def test_output_names(file_format, name):
    (job,) = plan_jobs([Path("x/a.b.dng")], Path("out"), file_format)
    assert job.output == Path("out") / name


def test_two_originals_of_one_name(tmp_path):
    originals = [Path("a/F.dng"), Path("b/f.dng"), Path("a/g.dng")]
    assert clashes(originals, tmp_path, "jpeg", overwrite=True) == [
        f"{tmp_path}/F.jpg: would be made from each of a/F.dng, b/f.dng; "
        "name one of them only, as by a pattern such as 'shoot/*.dng', "
        "or render them into different folders"
    ]


def test_existing_outputs_are_all_told(tmp_path):
    for name in ("a.jpg", "a.jpg.yaml", "b.jpg.yaml"):
        (tmp_path / name).write_text("x")
    originals = [Path("a.dng"), Path("b.dng"), Path("c.dng")]
    remedy = "choose another folder, or state --overwrite, or --keep to make only what is missing"
    assert clashes(originals, tmp_path, "jpeg") == [
        f"{tmp_path}/a.jpg: exists already; {remedy}",
        f"{tmp_path}/b.jpg.yaml: exists already; {remedy}",
    ]
    assert len(plan_jobs(originals, tmp_path, "jpeg", overwrite=True)) == 3


def test_outputs_that_do_not_differ_are_kept(tmp_path):
    for name in ("a.jpg", "a.jpg.yaml", "b.jpg", "b.jpg.yaml"):
        (tmp_path / name).write_text("x")
    originals = [Path("a.dng"), Path("b.dng"), Path("c.dng")]
    apart = {"a.jpg": None, "b.jpg": "made by chance"}

    def compare(job):
        return apart[job.output.name]

    assert clashes(originals, tmp_path, "jpeg", compare=compare) == [
        f"{tmp_path}/b.jpg: exists already, made by chance; "
        "choose another folder, or state --overwrite"
    ]
    left = plan_jobs(originals, tmp_path, "jpeg", overwrite=True, compare=compare)
    assert [job.original.name for job in left] == ["b.dng", "c.dng"]
    apart["b.jpg"] = None
    (job,) = plan_jobs(originals, tmp_path, "jpeg", compare=compare)
    assert job.original.name == "c.dng"


def test_an_original_is_never_replaced(tmp_path):
    original = tmp_path / "a.jpg"
    original.write_text("x")
    linked = tmp_path / "linked"
    linked.symlink_to(tmp_path)
    for folder in (tmp_path, linked):
        assert clashes([original], folder, "jpeg", overwrite=True) == [
            f"{folder / 'a.jpg'}: would replace an original; choose another folder"
        ]


def test_what_may_be_an_original_is_never_replaced(tmp_path):
    """The picture that a camera wrote beside its raw."""
    beside = tmp_path / "a.jpg"
    beside.write_text("x")
    assert clashes([tmp_path / "a.dng"], tmp_path, "jpeg", overwrite=True) == [
        f"{beside}: exists without a sidecar, so it may be an original; "
        "choose another folder, or move that file away"
    ]
