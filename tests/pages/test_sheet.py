"""Contact sheets on a page, as text and in a browser."""

import numpy as np
import pytest
from PIL import Image

from frames_in_memory import recipe
from grading.pages.sheet import PREVIEW_EDGE, contact_rows, sheet_page
from pages.html_checks import assert_readable, assert_whole_in_itself

LOOKS = [recipe(title="As shot"), recipe(title="A <stop> more", exposure={"stops": 1.0})]


def facts_of_capture():
    """An EXIF block with all that is said below a frame (tags of Exif 2.32)."""
    exif = Image.Exif()
    exif[271] = "Invented"
    exif.get_ifd(34665).update(
        {36867: "2025:09:14 19:35:08", 33434: 1 / 160, 33437: 2.8, 34855: 1600, 37386: 35.0}
    )
    return exif


@pytest.fixture(scope="module")
def originals(tmp_path_factory):
    """A landscape with burnt-out lights, an upright frame, a wide one, and a damaged file."""
    folder = tmp_path_factory.mktemp("set")
    rng = np.random.default_rng(4)
    sizes = {"wide & <b>.png": (60, 90), "up.png": (90, 60), "big.png": (600, 1700)}
    for name, size in sizes.items():
        array = rng.integers(60, 160, (*size, 3), np.uint8)
        array[:20, :20] = 255
        Image.fromarray(array).save(folder / name, exif=facts_of_capture())
    (folder / "torn.png").write_bytes(b"\x89PNG\r\n\x1a\n")
    return [folder / name for name in (*sizes, "torn.png")]


@pytest.fixture(scope="module")
def rows(originals):
    return list(contact_rows(originals, LOOKS))


def write(folder, rows, looks):
    path = folder / "sheet.html"
    kept = [type(row)(row.path, row.facts, row.cells[: len(looks)], row.problem) for row in rows]
    path.write_bytes(sheet_page(kept, looks, "A <set>"))
    return path


def test_rows_keep_the_order_of_the_originals(rows, originals):
    assert [row.path for row in rows] == originals
    assert [len(row.cells) for row in rows] == [2, 2, 2, 0]


def test_the_number_of_workers_changes_nothing(rows, originals):
    one = contact_rows(originals[:2], LOOKS, workers=1)
    for row, again in zip(rows, one, strict=False):
        for cell, other in zip(row.cells, again.cells, strict=True):
            assert np.array_equal(cell.thumbnail, other.thumbnail)


def test_thumbnails_are_graded_previews(rows):
    assert rows[1].cells[0].thumbnail.shape == (90, 60, 3)
    assert max(rows[2].cells[0].thumbnail.shape) <= PREVIEW_EDGE
    codes = [cell.thumbnail[30:, 30:] / 255 for cell in rows[0].cells]
    before, after = (((code + 0.055) / 1.055) ** 2.4 for code in codes)  # IEC 61966-2-1
    assert (after / before)[after < 0.95].mean() == pytest.approx(2, abs=0.03)


def test_clipping_is_reported_under_the_frame(rows):
    share = 400 / (60 * 90)
    assert any(text.startswith(f"{100 * share:.2f} % of ") for text in rows[0].cells[0].warnings)


def test_a_damaged_original_is_reported_in_its_row(rows):
    assert rows[3].facts is None
    assert rows[3].problem and "torn.png" not in rows[3].problem


@pytest.mark.parametrize("looks", [LOOKS[:1], LOOKS])
def test_sheet_is_whole_in_itself(tmp_path, rows, looks):
    parts = assert_whole_in_itself(write(tmp_path, rows, looks).read_bytes())
    assert parts.tags.count("img") == 3 * len(looks)
    for text in ("A <set>", "wide & <b>.png", rows[3].problem, *(look.title for look in looks)):
        assert text in parts.text
    described = [value for tag, name, value in parts.attributes if (tag, name) == ("img", "alt")]
    assert described[0] == "wide & <b>.png, As shot"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("looks", [LOOKS[:1], LOOKS])
def test_sheet_is_readable_and_fits(browser, tmp_path, rows, looks, scheme):
    path = write(tmp_path, rows, looks)
    for width in (320, 1400):
        browser.open(path, width=width, scheme=scheme)
        assert_readable(browser)
        assert browser.run("document.documentElement.scrollWidth") <= width
        assert browser.requests() == [] and browser.problems() == []


@pytest.mark.parametrize("looks", [LOOKS[:1], LOOKS])
def test_frames_keep_their_shape(browser, tmp_path, rows, looks):
    browser.open(write(tmp_path, rows, looks), width=1400)
    sizes = "[...document.images].map((i) => [i.width, i.height, i.naturalWidth, i.naturalHeight])"
    for width, height, whole_width, whole_height in browser.run(sizes):
        assert width / height == pytest.approx(whole_width / whole_height, rel=0.02)


def test_looks_stand_in_columns_and_frames_in_rows(browser, tmp_path, rows):
    browser.open(write(tmp_path, rows, LOOKS), width=1400)
    boxes = "[...document.images].map((i) => i.getBoundingClientRect()).map((b) => [b.x, b.y])"
    places = browser.run(boxes)
    (a0, b0), (a1, b1) = places[:2], places[2:4]
    assert a0[0] == a1[0] < b0[0] == b1[0]
    assert a0[1] == b0[1] < a1[1] == b1[1]
