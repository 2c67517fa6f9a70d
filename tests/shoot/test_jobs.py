"""Clashes are found before work starts, all of them."""

import os
from pathlib import Path

import pytest

from grading.engine.output import Output
from grading.errors import OutputError
from grading.shoot.jobs import check_names
from planning import planned


def plan(originals, folder, file_format, *arguments, **settings):
    return planned(dict.fromkeys(originals), folder, Output(file_format), *arguments, **settings)


def clashes(*arguments, **settings):
    with pytest.raises(OutputError) as caught:
        plan(*arguments, **settings)
    return str(caught.value).splitlines()


@pytest.mark.parametrize(("file_format", "name"), [("jpeg", "a.b.jpg"), ("tiff", "a.b.tif")])
def test_output_names(file_format, name):
    (job,) = plan([Path("x/a.b.dng")], Path("out"), file_format)
    assert [target.path for target in job.targets] == [Path("out") / name]


def test_two_originals_of_one_name(tmp_path):
    originals = [Path("a/F.dng"), Path("b/f.dng"), Path("a/g.dng")]
    assert clashes(originals, tmp_path, "jpeg", overwrite=True) == [
        f"{tmp_path}/F.jpg: would be made from each of a/F.dng, b/f.dng; "
        "name one of them only, as by a pattern such as 'shoot/*.dng', "
        "or render them into different folders"
    ]


def test_a_jpeg_of_a_raw_that_is_rendered_too_has_a_name_of_its_own(tmp_path):
    originals = [Path("a/F.dng"), Path("a/f.JPG"), Path("b/g.dng"), Path("c/h.jpg")]
    outputs = [job.targets[0].path.name for job in plan(originals, tmp_path, "tiff")]
    assert outputs == ["F.tif", "f-jpg.tif", "g.tif", "h.tif"]


ORIGINALS = [Path("a.dng"), Path("b.dng"), Path("c.dng")]


def test_existing_outputs_are_all_reported(tmp_path, earlier):
    earlier(tmp_path / "a.jpg")
    earlier(tmp_path / "b.jpg")
    (tmp_path / "b.jpg").unlink()
    remedy = "choose another folder, or state --overwrite, or --keep to make only what is missing"
    assert clashes(ORIGINALS, tmp_path, "jpeg") == [
        f"{tmp_path}/a.jpg: exists already; {remedy}",
        f"{tmp_path}/b.jpg.yaml: exists already; {remedy}",
    ]
    assert len(plan(ORIGINALS, tmp_path, "jpeg", overwrite=True)) == 3


def test_many_clashes_of_one_kind_are_one_line(tmp_path, earlier):
    originals = [Path(f"{i:02}.dng") for i in range(25)]
    for path in originals:
        earlier(tmp_path / f"{path.stem}.jpg")
    (line,) = clashes(originals, tmp_path, "jpeg")
    assert line.startswith(f"{tmp_path}/00.jpg and 24 more: exists already; choose another")


def test_outputs_that_do_not_differ_are_kept(tmp_path, earlier):
    records = [earlier(tmp_path / f"{name}.jpg") for name in "ab"]
    apart = {"a.jpg": None, "b.jpg": "made by chance"}

    def compare(job, target, record):
        assert record in records and record.output.name == target.path.name
        return apart[target.path.name]

    assert clashes(ORIGINALS, tmp_path, "jpeg", compare=compare) == [
        f"{tmp_path}/b.jpg: exists already, made by chance; "
        "choose another folder, or state --overwrite"
    ]
    left = plan(ORIGINALS, tmp_path, "jpeg", overwrite=True, compare=compare)
    assert [job.original.name for job in left] == ["b.dng", "c.dng"]
    apart["b.jpg"] = None
    (job,) = plan(ORIGINALS, tmp_path, "jpeg", compare=compare)
    assert job.original.name == "c.dng"


def test_what_a_killed_run_left_is_made_again(tmp_path, earlier):
    """Sidecars come first: an output is missing, or still the one that it was to replace."""
    earlier(tmp_path / "a.jpg")
    (tmp_path / "a.jpg").unlink()
    before = earlier(tmp_path / "b.jpg", b"before").output.sha256
    earlier(tmp_path / "b.jpg", b"after", replaces=before)
    (tmp_path / "b.jpg").write_bytes(b"before")
    assert clashes(ORIGINALS, tmp_path, "jpeg", compare=lambda *_: None) == [
        f"{tmp_path}/b.jpg: exists already, from before a run that was stopped while it replaced "
        "it; choose another folder, or state --overwrite"
    ]
    for compare in (None, lambda *_: None):
        assert len(plan(ORIGINALS, tmp_path, "jpeg", True, compare)) == 3
    assert clashes(ORIGINALS[:1], tmp_path, "jpeg", compare=lambda *_: "made by chance") == [
        f"{tmp_path}/a.jpg: exists already, made by chance; "
        "choose another folder, or state --overwrite"
    ]
    (job,) = plan(ORIGINALS[:1], tmp_path, "jpeg", compare=lambda *_: None)
    assert job.original.name == "a.dng"


def test_an_original_is_never_replaced(tmp_path):
    original = tmp_path / "a.jpg"
    original.write_text("x")
    linked = tmp_path / "linked"
    linked.symlink_to(tmp_path)
    for folder in (tmp_path, linked):
        assert clashes([original], folder, "jpeg", overwrite=True) == [
            f"{folder / 'a.jpg'}: would replace an original; choose another folder"
        ]


@pytest.mark.parametrize(
    "settings", [{"overwrite": True}, {"compare": lambda *_: None}], ids=["overwrite", "keep"]
)
def test_what_may_be_a_persons_is_never_replaced(tmp_path, earlier, settings):
    """The picture that a camera wrote beside its raw, whatever lies beside it; a retouched one."""
    for name in "abcde":
        earlier(tmp_path / f"{name}.jpg")
    (tmp_path / "a.jpg.yaml").unlink()
    (tmp_path / "b.jpg.yaml").write_text("")
    (tmp_path / "c.jpg.yaml").write_bytes((tmp_path / "e.jpg.yaml").read_bytes())
    (tmp_path / "d.jpg").write_bytes(b"retouched")
    found = clashes([Path(f"{name}.dng") for name in "abcde"], tmp_path, "jpeg", **settings)
    remedy = "; choose another folder, or move that file away"
    assert found == [
        f"{tmp_path}/a.jpg: exists without a sidecar, so it may be an original{remedy}",
        f"{tmp_path}/b.jpg.yaml: exists and is no sound sidecar of b.jpg "
        f"(cut off: the end mark '...' is missing){remedy}",
        f"{tmp_path}/c.jpg.yaml: exists and is no sound sidecar of c.jpg "
        f"(this is the sidecar of e.jpg){remedy}",
        f"{tmp_path}/d.jpg: is not what its sidecar says: it was changed since, so it is yours"
        f"{remedy}",
    ]


def test_a_lone_file_with_a_sidecars_name_is_a_persons(tmp_path):
    (tmp_path / "a.jpg.yaml").write_text("shopping: list")
    (found,) = clashes([Path("a.dng")], tmp_path, "jpeg", overwrite=True)
    assert found.startswith(f"{tmp_path}/a.jpg.yaml: exists and is no sound sidecar of a.jpg")


@pytest.mark.skipif(os.name == "nt", reason="special files of POSIX")
def test_what_is_no_file_stands_in_the_way_at_once(tmp_path, earlier):
    earlier(tmp_path / "a.jpg")
    (tmp_path / "a.jpg").unlink()
    os.mkfifo(tmp_path / "a.jpg")
    (found,) = clashes([Path("a.dng")], tmp_path, "jpeg", overwrite=True)
    assert "a.jpg: cannot be read (it is not a regular file)" in found


@pytest.mark.skipif(os.name == "nt", reason="names there are never bytes")
def test_names_that_no_sidecar_could_have(tmp_path):
    fit, long, latin = "ä" * 123 + ".dng", "a" * 247 + ".dng", os.fsdecode(b"caf\xe9.dng")
    jobs = plan([Path(fit), Path(long), Path(latin)], tmp_path, "jpeg", True)
    found = []
    for job in jobs:
        try:
            check_names(job)
        except OutputError as error:
            found.append(str(error))
    assert found == [
        f"{long}: its output's sidecar would have a name of 256 bytes; "
        "allowed: up to 255 bytes; shorten the name of the file",
        r"caf\xe9.dng: this name is not UTF-8, so no sidecar could record it; rename the file",
    ]
