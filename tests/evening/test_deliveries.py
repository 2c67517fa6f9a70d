"""What is handed over: names, choices, clashes."""

import pytest

from grading.engine.output import Output
from grading.errors import RecipeError
from grading.evening.deliveries import jobs_of

FRAMES = "frames: {F1: {mark: 5}, F2: {mark: 2}, F3: {leave_out: true}}"


def paths(evening, folder):
    return {
        str(target.path.relative_to(folder)): target.output
        for job in jobs_of(evening)
        for target in job.targets
    }


def test_each_delivery_has_its_frames_looks_names_and_settings(card, shoot, tmp_path):
    card(4)
    evening = shoot(FRAMES, looks="[evenlight, salt-noon]", deliveries=(
        "{web: {folder: 'web/{look}', long_edge: 1000, quality: 80, looks: [salt-noon]},"
        " print: {folder: print, name: '{number:03}_{date}_{time}_{look}_{mark}_{delivery}',"
        " format: tiff, space: bt2020, marks: [2, 5]}}"
    ))  # fmt: skip
    web, tiff = Output("jpeg", "srgb", 1000, 80), Output("tiff", "bt2020")
    assert paths(evening, tmp_path) == {
        **{f"web/salt-noon/F{n}.jpg": web for n in (1, 2, 4)},
        **{f"print/001_2026-04-18_190000_{look}_5_print.tif": tiff
           for look in ("evenlight", "salt-noon")},
        **{f"print/002_2026-04-18_190600_{look}_2_print.tif": tiff
           for look in ("evenlight", "salt-noon")},
    }  # fmt: skip


def test_one_grade_makes_all_deliveries_of_a_frame_under_a_look(card, shoot):
    card(2)
    evening = shoot(deliveries="{a: {folder: a}, b: {folder: b}, c: {folder: c, marks: [1]}}")
    assert [len(job.targets) for job in jobs_of(evening)] == [2, 2]


def test_a_frame_that_nobody_takes_is_no_job(card, shoot):
    card(2)
    assert jobs_of(shoot(deliveries="{a: {folder: a, marks: [1]}}")) == []


@pytest.mark.parametrize(
    ("deliveries", "message"),
    [
        ("{web: {folder: web}}", "F1.jpg would be made of F1 under evenlight for web and of"
                                 " F1 under salt-noon for web; put {look} into its name or folder"),
        ("{web: {folder: web, name: '{look}'}}", "put {stem} or {number} into its name or folder"),
        ("{web: {folder: web, name: '{mark}{look}'}}", "the mark of frame F2 is not known"),
        ("{web: {folder: web, name: 'a/{stem}{look}'}}", "allowed: the plain name of a file"),
        ("{a: {folder: w, name: '{stem}{look}'}, b: {folder: ./w, name: '{stem}{look}'}}",
         "give one of the two another folder or name"),
    ],
)  # fmt: skip
def test_clashes_are_found_before_work_starts(card, shoot, tmp_path, deliveries, message):
    card(2)
    evening = shoot(
        "frames: {F1: {mark: 5}}", looks="[evenlight, salt-noon]", deliveries=deliveries
    )
    with pytest.raises(RecipeError) as caught:
        jobs_of(evening)
    assert str(caught.value).startswith(f"{tmp_path / 'evening.yaml'}:4:")
    assert message in str(caught.value)


def test_a_field_of_time_needs_the_time(card, shoot):
    card(1, timed=False)
    with pytest.raises(RecipeError, match="the date of frame F1 is not known"):
        jobs_of(shoot(deliveries="{web: {folder: web, name: '{date}'}}"))


def test_a_folder_beside_is_named_in_short_unless_a_link_leads_elsewhere(card, shoot, tmp_path):
    card(1)
    (tmp_path / "far" / "in").mkdir(parents=True)
    (tmp_path / "link").symlink_to(tmp_path / "far" / "in")

    def folder(text):
        (job,) = jobs_of(shoot(deliveries=f"{{web: {{folder: {text}}}}}"))
        return job.targets[0].path.parent

    assert folder("card/../web") == tmp_path / "web"
    assert folder("link/../web") == tmp_path / "link" / ".." / "web"
