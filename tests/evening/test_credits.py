"""Credits, captions and marks of a shoot, from its file into the files that are handed over."""

from dataclasses import replace
from functools import partial
from xml.etree import ElementTree

import pytest
from PIL import Image

from grading.errors import RecipeError
from grading.evening.deliveries import jobs_of
from grading.files.metadata.label import Label
from grading.files.sidecar import as_bytes, read_sidecar
from grading.shoot.batch import render_all
from grading.shoot.jobs import plan_jobs
from grading.shoot.keep import what_differs
from grading.shoot.noise import NoiseOfRun
from grading.shoot.redo import redo
from grading.shoot.verify import Verified, verify_folder

SHOOT = """
credits: {creator: Zoë Ødegård, rights: "© 2026 <Zoë>", keywords: [harbour, 'lamps & water']}
frames: {F1: {mark: 5, caption: 'The pilot boat, "Søn"'}}
"""
DELIVERIES = (
    "{web: {folder: web, box: [64, 64], dpi: 144},"
    " press: {folder: press, format: png, credits: {creator: Desk, rights: null, terms: once}},"
    " print: {folder: print, format: tiff8, space: oprgb, short_edge: 32},"
    " page: {folder: page, format: avif, space: display-p3, long_edge: 60},"
    " archive: {folder: archive, format: jxl, quality: 100}}"
)


@pytest.fixture
def jobs(card, shoot):
    card(2)
    return jobs_of(shoot(SHOOT, deliveries=DELIVERIES))


def comparing(jobs):
    return partial(what_differs, noise_of_run=NoiseOfRun([job.original for job in jobs]))


def packet_of(path):
    """By Pillow; of JPEG XL, which it does not read, what stands in the file."""
    if path.suffix == ".jxl":
        return path.read_bytes().partition(b"xml ")[2]
    with Image.open(path) as image:
        return image.info["xmp"]


def texts(path, name):
    packet = ElementTree.fromstring(packet_of(path))
    return [each.text for prop in packet.iter(name) for each in prop.iter() if each.text.strip()]


def test_a_deliverys_credits_win_key_by_key(jobs):
    first, second = ({t.path.parent.name: t.label for t in job.targets} for job in jobs)
    keywords = ("harbour", "lamps & water")
    whole = Label(creator="Zoë Ødegård", rights="© 2026 <Zoë>", keywords=keywords)
    assert second == {
        "web": replace(whole, dpi=144),
        "press": Label(creator="Desk", terms="once", keywords=keywords),
        **dict.fromkeys(("print", "page", "archive"), whole),
    }
    said = {"caption": 'The pilot boat, "Søn"', "rating": 5}
    assert first == {name: replace(label, **said) for name, label in second.items()}


def test_they_are_in_the_files_and_the_files_come_back_from_their_sidecars(jobs, tmp_path):
    assert [outcome.error for outcome in render_all(jobs)] == [None, None]
    creator, title = "{http://purl.org/dc/elements/1.1/}creator", "description"
    for folder, ending, expected in (
        ("web", "jpg", "Zoë Ødegård"), ("press", "png", "Desk"), ("print", "tif", "Zoë Ødegård"),
        ("page", "avif", "Zoë Ødegård"), ("archive", "jxl", "Zoë Ødegård"),
    ):  # fmt: skip
        path = tmp_path / folder / f"F1.{ending}"
        assert texts(path, creator) == [expected]
        described = texts(path, "{http://purl.org/dc/elements/1.1/}" + title)
        assert described == ['The pilot boat, "Søn"']
        assert verify_folder(tmp_path / folder, redone=9) == Verified(2, 0, [])
        before = path.read_bytes()
        path.unlink()
        assert redo(path.with_name(path.name + ".yaml")) == (path, True)
        assert path.read_bytes() == before
    assert not plan_jobs(jobs, compare=comparing(jobs))


@pytest.mark.parametrize(
    "change", [{"creator": "Somebody Else"}, {"caption": "Fog"}, {"rating": 1}, {"keywords": []}]
)
def test_forged_credits_are_noticed_without_rendering(jobs, tmp_path, change):
    list(render_all(jobs))
    for place in tmp_path.glob("*/F1.*.yaml"):
        record = read_sidecar(place)
        place.write_bytes(as_bytes(replace(record, label=record.label | change)))
        (found,) = verify_folder(place.parent).troubles
        assert str(found).startswith(f"{place}: label is not that of the file")


@pytest.mark.parametrize("label", [{"owner": "x"}, {"rating": 9}, {"creator": "\0"}, {"dpi": "a"}])
def test_a_label_that_no_run_writes_is_refused(jobs, tmp_path, label):
    list(render_all(jobs))
    place = tmp_path / "web" / "F1.jpg.yaml"
    place.write_bytes(as_bytes(replace(read_sidecar(place), label=label)))
    (found,) = verify_folder(tmp_path / "web", redone=9).troubles
    assert str(found).startswith(f"{place}: ")


def test_other_credits_are_made_again(jobs, card, shoot):
    list(render_all(jobs))
    other = jobs_of(shoot(SHOOT.replace("mark: 5", "mark: 4"), deliveries=DELIVERIES))
    remade = plan_jobs(other, True, comparing(other))
    assert [len(job.targets) for job in remade] == [5]


@pytest.mark.parametrize(
    ("deliveries", "message"),
    [
        ("{a: {folder: a, long_edge: 100, box: [90, 90]}}", "deliveries.a: long_edge and box are"
         " stated together; allowed: one of long_edge, short_edge and box"),
        ("{a: {folder: a, box: [90]}}", "deliveries.a.box"),
        ("{a: {folder: a, box: [90, 5]}}", "deliveries.a.box[1]"),
        ("{a: {folder: a, dpi: 0}}", "deliveries.a.dpi = 0"),
        ("{a: {folder: a, place: here}}", "deliveries.a.place = here: not possible; allowed:"
                                          " leave_out or keep"),
        ("{a: {folder: a, format: avif, space: oprgb}}", "deliveries.a: avif has no way to state"
         " the space oprgb; allowed: srgb, display-p3, bt2020, grey; choose another format"),
        ("{a: {folder: a, format: jxl, space: display-p3}}", "deliveries.a: jxl has no way to"
         " state the space display-p3; allowed: srgb, grey; choose another format"),
        ("{a: {folder: a, credits: {creator: ''}}}", "deliveries.a.credits.creator"),
        ('{a: {folder: a, credits: {creator: "a\\eb"}}}', "the control character"),
        ("{a: {folder: a, credits: {owner: me}}}", "deliveries.a.credits.owner"),
        ("{a: {folder: a, credits: {keywords: []}}}", "deliveries.a.credits.keywords"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_its_place(card, shoot, tmp_path, deliveries, message):
    card(1)
    with pytest.raises(RecipeError) as caught:
        jobs_of(shoot(deliveries=deliveries))
    assert str(caught.value).startswith(f"{tmp_path / 'evening.yaml'}:4:")
    assert message in str(caught.value)
