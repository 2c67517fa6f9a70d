"""Contact sheets on a page, as text and in a browser."""

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from frames_in_memory import recipe
from grading.pages.sheet import (
    PAPER_EDGE,
    PREVIEW_EDGE,
    THUMBNAIL_EDGE,
    Entry,
    Noted,
    contact_rows,
    sheet_page,
    view_name,
)
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
    return list(contact_rows(entries(originals)))


def entries(originals):
    return [Entry(path, LOOKS) for path in originals]


def codes(jpeg):
    return np.asarray(Image.open(io.BytesIO(jpeg.data)))


def write(folder, rows, looks):
    """The sheet, with the larger views beside it."""
    path, views = folder / "sheet.html", folder / "views %"
    views.mkdir(exist_ok=True)
    kept = [replace(row, cells=row.cells[: len(looks)]) for row in rows]
    for number, row in enumerate(kept, 1):
        for look, cell in enumerate(row.cells, 1):
            (views / view_name(number, look)).write_bytes(cell.large.data)
    path.write_bytes(sheet_page(kept, [look.title for look in looks], "A <set>", views.name))
    return path


def test_rows_keep_the_order_of_the_originals(rows, originals):
    assert [row.path for row in rows] == originals
    assert [len(row.cells) for row in rows] == [2, 2, 2, 0]


def test_the_number_of_workers_changes_nothing(rows, originals):
    one = contact_rows(entries(originals[:2]), workers=1)
    for row, again in zip(rows, one, strict=False):
        assert row.cells == again.cells


def test_views_are_graded_previews(rows):
    assert codes(rows[1].cells[0].large).shape == (90, 60, 3)
    assert max(codes(rows[2].cells[0].large).shape) <= PREVIEW_EDGE
    shown = [codes(cell.large)[30:, 30:] / 255 for cell in rows[0].cells]
    before, after = (((code + 0.055) / 1.055) ** 2.4 for code in shown)  # IEC 61966-2-1
    whole = after < 0.95
    assert after[whole].sum() / before[whole].sum() == pytest.approx(2, abs=0.03)


def test_thumbnails_are_the_views_made_smaller(rows):
    for cell in rows[2].cells:
        small, large = codes(cell.thumbnail), codes(cell.large)
        assert max(small.shape) == THUMBNAIL_EDGE == max(cell.thumbnail.width, 0)
        assert small.mean() == pytest.approx(large.mean(), abs=3)


def test_a_sheet_for_paper_has_larger_thumbnails_and_no_views(originals):
    (row,) = contact_rows(entries(originals[2:3]), paper=True)
    assert [(max(codes(cell.thumbnail).shape), cell.large) for cell in row.cells] == [
        (PAPER_EDGE, None)
    ] * 2


def test_clipping_is_reported_under_the_frame(rows):
    share = 400 / (60 * 90)
    assert any(text.startswith(f"{100 * share:.2f} % of ") for text in rows[0].cells[0].warnings)


def test_a_damaged_original_is_reported_in_its_row(rows):
    assert rows[3].facts is None
    assert rows[3].problem and "torn.png" not in rows[3].problem


@pytest.mark.parametrize("looks", [LOOKS[:1], LOOKS])
def test_sheet_is_whole_in_itself(tmp_path, rows, looks):
    parts = assert_whole_in_itself(write(tmp_path, rows, looks).read_bytes())
    assert parts.tags.count("img") == 3 * len(looks) + 1
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
    sizes = """[...document.querySelectorAll('.mount img')]
      .map((i) => [i.width, i.height, i.naturalWidth, i.naturalHeight])"""
    for width, height, whole_width, whole_height in browser.run(sizes):
        assert width / height == pytest.approx(whole_width / whole_height, rel=0.02)


def test_looks_stand_in_columns_and_frames_in_rows(browser, tmp_path, rows):
    browser.open(write(tmp_path, rows, LOOKS), width=1400)
    boxes = "[...document.images].map((i) => i.getBoundingClientRect()).map((b) => [b.x, b.y])"
    places = browser.run(boxes)
    (a0, b0), (a1, b1) = places[:2], places[2:4]
    assert a0[0] == a1[0] < b0[0] == b1[0]
    assert a0[1] == b0[1] < a1[1] == b1[1]


NOTES = (Noted(5, "Lamps & <haze>", ("level +0.33 stops",), ("16% is clipped",)), Noted(3), Noted())


@pytest.fixture(params=[LOOKS[:1], LOOKS], ids=["tiles", "grid"])
def opened(browser, tmp_path, rows, request):
    """The browser at a sheet with notes."""
    noted = [replace(row, noted=each) for row, each in zip(rows[:3], NOTES, strict=True)]
    browser.open(write(tmp_path, noted, request.param), 1000, 500)
    yield browser
    assert browser.problems() == [] and browser.requests() == []


def frames_seen(browser):
    return browser.run("""[...document.querySelectorAll('[data-mark]')]
      .filter((e) => e.checkVisibility()).map((e) => e.querySelector('.name').innerText)""")


def view(browser):
    browser.wait_for("document.querySelector('#view').complete")
    return browser.run("document.querySelector('#view').alt"), browser.run(
        "[document.querySelector('#view').naturalWidth, document.querySelector('#view').src]"
    )


def test_notes_stand_beside_the_frame(opened):
    shown = opened.run("document.querySelector('[data-mark]').innerText")
    for text in ("Mark 5", "Lamps & <haze>", "level +0.33 stops", "16% is clipped"):
        assert text in shown
    alt = opened.run("document.images[0].alt")
    assert alt == "wide & <b>.png, As shot: Lamps & <haze>"


def test_frames_are_filtered_by_their_marks(opened):
    assert len(frames_seen(opened)) == 3
    opened.run("document.querySelector('#marks [value=\"3\"]').click()")
    assert frames_seen(opened) == ["wide & <b>.png", "big.png"]
    opened.run("document.querySelector('#marks [value=\"0\"]').click()")
    assert frames_seen(opened) == ["wide & <b>.png"]
    assert opened.run("document.querySelector('#count').innerText") == "1 of 3 frames"
    opened.run("document.querySelector('#marks [value=\"3\"]').click()")
    assert frames_seen(opened) == ["wide & <b>.png", "up.png"]


def test_a_click_shows_the_larger_view_and_escape_ends_it(opened):
    opened.run("document.querySelectorAll('.mount')[0].focus()")
    opened.key("Enter", 13)
    opened.run("document.querySelectorAll('.mount')[0].click()")
    opened.wait_for("document.querySelector('#large').open")
    assert view(opened) == (
        "wide & <b>.png, As shot: Lamps & <haze>", [90, view(opened)[1][1]]
    )
    assert view(opened)[1][1].endswith("/views%20%25/001-1.jpg")
    opened.key("Escape", 27)
    opened.wait_for("!document.querySelector('#large').open")
    assert opened.run("document.activeElement === document.querySelectorAll('.mount')[0]")


def test_arrows_step_through_what_is_not_filtered_out(opened):
    looks = 1 + opened.run("document.querySelectorAll('td').length > 0")
    opened.run("document.querySelector('#marks [value=\"3\"]').click()")
    opened.run("document.querySelectorAll('.mount')[0].click()")
    opened.key("ArrowDown", 40)
    assert view(opened) == ("big.png, As shot", [850, view(opened)[1][1]])
    opened.key("ArrowDown", 40)
    assert view(opened)[0] == "big.png, As shot"
    opened.key("ArrowRight", 39)
    assert view(opened)[0] == ("big.png, A <stop> more" if looks == 2 else "big.png, As shot")
    opened.key("ArrowUp", 38)
    assert view(opened)[0].startswith("wide & <b>.png")
    opened.key("Escape", 27)


def test_a_page_without_its_folder_says_so(browser, tmp_path, rows):
    path = write(tmp_path, rows, LOOKS)
    (tmp_path / "views %").rename(tmp_path / "elsewhere")
    browser.open(path)
    browser.run("document.querySelectorAll('.mount')[0].click()")
    browser.wait_for("document.querySelector('#large-trouble').innerText !== ''")
    assert browser.run("document.querySelector('#view').src").startswith("data:image/jpeg")


def test_names_of_looks_stay_in_view(browser, tmp_path, rows):
    browser.open(write(tmp_path, rows, LOOKS), 1000, 400)
    browser.run("document.querySelector('.scroll').scrollTo(0, 300)")
    at = browser.run("""(() => {
      const {top, bottom} = document.querySelectorAll('thead th')[1].getBoundingClientRect();
      const seen = document.elementFromPoint(400, (top + bottom) / 2);
      return [top, innerHeight, seen.closest('thead') !== null];
    })()""")
    assert 0 <= at[0] < at[1] / 2 and at[2]
