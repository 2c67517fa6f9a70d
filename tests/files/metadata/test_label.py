"""What outputs say beside their pixels, read back by independent readers.

Property names and types: IPTC Photo Metadata Standard 2025.1 (Core 1.5), table of XMP names; XMP
specification parts 1 and 2. Tags: Exif 2.32, tables 3 and 4.
"""

import io
from xml.etree import ElementTree

import exifread
import numpy as np
import pytest
import tifffile
from PIL import Image

from grading.errors import OutputError
from grading.files.formats.record import Attached
from grading.files.formats.registry import FORMATS
from grading.files.metadata import tifftags
from grading.files.metadata.label import Label, check_text, label_of, labelled
from grading.files.metadata.tifftags import Tag
from grading.files.metadata.xmp import xmp_packet

NASTY = "Zoë & <b>\"Søn\"</b> ]]> 漁師 \U0001f305 &amp; 'x'\nsecond line"
LABEL = Label(
    creator=NASTY,
    credit="Harbour Pictures / Zoë",
    rights="© 2026 Zoë <all rights>",
    rights_page="https://example.org/rights?a=1&b=2",
    terms="Not for advertising",
    keywords=("harbour", "blue hour & <lamps>", "船"),
    caption="The pilot boat\nat the quay",
    rating=4,
    dpi=300,
)
DIGEST = "0f" * 32
RDF = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}"
DC = "{http://purl.org/dc/elements/1.1/}"
RIGHTS = "{http://ns.adobe.com/xap/1.0/rights/}"
LANGUAGE = "{http://www.w3.org/XML/1998/namespace}lang"
GPS = {1: Tag(tifftags.ASCII, "N"), 2: Tag(tifftags.RATIONAL, ((52, 1), (30, 1), (0, 1)))}
MAIN = {271: Tag(tifftags.ASCII, "Invented"), 315: Tag(tifftags.ASCII, "camera owner")}
CARRIED = (MAIN, {}, GPS)


def described(packet):
    """The one rdf:Description of a packet."""
    root = ElementTree.fromstring(packet)
    assert root.tag == "{adobe:ns:meta/}xmpmeta"
    (about,) = root.iter(f"{RDF}Description")
    assert about.get(f"{RDF}about") == ""
    return about


def items(about, name, kind):
    """The texts of an array property, whose kind of array the standard states."""
    (array,) = about.find(name)
    assert array.tag == RDF + kind
    return [(each.text, each.get(LANGUAGE)) for each in array]


def test_properties_have_the_names_and_types_of_the_standard():
    about = described(xmp_packet(LABEL, "F1.dng", DIGEST))
    assert items(about, f"{DC}creator", "Seq") == [(NASTY, None)]
    assert items(about, f"{DC}rights", "Alt") == [(LABEL.rights, "x-default")]
    assert items(about, f"{DC}description", "Alt") == [(LABEL.caption, "x-default")]
    assert items(about, f"{RIGHTS}UsageTerms", "Alt") == [(LABEL.terms, "x-default")]
    assert items(about, f"{DC}subject", "Bag") == [(word, None) for word in LABEL.keywords]
    assert about.find(f"{RIGHTS}WebStatement").text == LABEL.rights_page
    assert about.find("{http://ns.adobe.com/photoshop/1.0/}Credit").text == LABEL.credit
    assert about.find("{http://ns.adobe.com/xap/1.0/}Rating").text == "4"


def test_the_original_is_named_with_its_content():
    about = described(xmp_packet(LABEL, "sea\x07side & co.dng", DIGEST))
    source = about.find("{http://ns.adobe.com/xap/1.0/mm/}DerivedFrom")
    assert source.get(f"{RDF}parseType") == "Resource"
    reference = "{http://ns.adobe.com/xap/1.0/sType/ResourceRef#}"
    assert source.find(f"{reference}filePath").text == "sea\ufffdside & co.dng"
    assert source.find(f"{reference}documentID").text == f"nih:sha-256;{DIGEST}"  # RFC 6920, 7


def test_only_what_is_stated_is_there():
    about = described(xmp_packet(Label(caption="Fog"), "a.dng", DIGEST))
    assert [each.tag.split("}")[1] for each in about] == ["description", "DerivedFrom"]
    assert xmp_packet(Label(dpi=300, place="keep"), "a.dng", DIGEST) is None


def test_a_packet_is_wrapped_as_xmp_has_it():
    """ISO 16684-1, 7.3: header with the byte order mark and the fixed id, trailer."""
    packet = xmp_packet(LABEL, "a.dng", DIGEST)
    assert packet.startswith(b'<?xpacket begin="\xef\xbb\xbf" id="W5M0MpCehiHzreSzNTczkc9d"?>')
    assert packet.endswith(b'<?xpacket end="r"?>')


def file_of(name, label, carried=CARRIED):
    record = FORMATS[name]
    codes = np.full((16, 24, 3), 90, np.uint8 if record.bits == 8 else np.uint16)
    xmp = xmp_packet(label, "a.dng", DIGEST)
    return record.encode(codes, Attached("srgb", labelled(carried, label), xmp), 90, 1)


@pytest.mark.parametrize("name", [name for name in FORMATS if name != "jxl"])
def test_pillow_reads_packet_and_exif(name):
    with Image.open(io.BytesIO(file_of(name, LABEL))) as image:
        image.load()
        packet, exif = image.info["xmp"], image.getexif()
    assert items(described(packet), f"{DC}creator", "Seq") == [(NASTY, None)]
    texts = {code: exif[code] for code in (270, 315, 33432)}
    assert {c: text.encode("latin-1").decode() for c, text in texts.items()} == {
        270: LABEL.caption, 315: NASTY, 33432: LABEL.rights,
    }  # fmt: skip
    assert exif[282] == exif[283] == 300 and exif[296] == 2
    assert not exif.get_ifd(34853)


@pytest.mark.parametrize("name", ["jpeg", "tiff", "tiff8", "png", "png16"])
def test_the_density_is_where_each_format_has_it(name):
    with Image.open(io.BytesIO(file_of(name, LABEL))) as image:
        assert image.info["dpi"] == pytest.approx((300, 300), abs=0.01)


def test_exifread_and_tifffile_read_the_same():
    tags = exifread.process_file(io.BytesIO(file_of("jpeg", LABEL)))
    assert tags["Image Copyright"].values == LABEL.rights
    with tifffile.TiffFile(io.BytesIO(file_of("tiff8", LABEL))) as file:
        page = file.pages[0]
        assert page.tags[700].value == xmp_packet(LABEL, "a.dng", DIGEST)
        assert page.tags[315].value == NASTY and page.tags[282].value == (300, 1)
        assert page.dtype == np.uint8 and (page.asarray() == 90).all()


@pytest.mark.parametrize("name", FORMATS)
def test_the_place_stays_behind_unless_it_is_kept(name):
    """Exif 2.32, 4.6.6: GPS tags. The letters of a latitude are nowhere in the file."""
    pair = b"\x34\0\0\0\x01\0\0\0\x1e\0\0\0\x01\0\0\0"  # 52/1, 30/1
    assert pair not in file_of(name, Label())
    assert pair in file_of(name, Label(place="keep"))


def test_what_the_camera_says_gives_way_to_credits_only():
    assert labelled(CARRIED, Label())[0] == CARRIED[0]
    assert labelled(CARRIED, LABEL)[0][315].values == NASTY
    assert CARRIED[0][315].values == "camera owner"
    assert labelled(None, Label(place="keep")) is None
    assert labelled(None, Label(creator="Z"))[0] == {315: Tag(tifftags.ASCII, "Z")}


def test_a_packet_that_a_jpeg_has_no_room_for_is_refused():
    long = Label(keywords=tuple(f"word {n}" * 20 for n in range(500)))
    with pytest.raises(OutputError, match="XMP packet of .* allowed: up to 65504 bytes in a JPEG"):
        file_of("jpeg", long)
    with Image.open(io.BytesIO(file_of("png", long))) as image:
        assert len(items(described(image.info["xmp"]), f"{DC}subject", "Bag")) == 500


@pytest.mark.parametrize("text", ["", " \n", "a\0b", "a\x1b[0m", "a\ud800", "a\ufffe", "a\r\nb"])
def test_text_that_xml_cannot_hold_is_refused(text):
    """XML 1.0, 2.2; a carriage return would come back as a line feed (2.11)."""
    with pytest.raises(ValueError, match="allowed|leave the key out"):
        check_text(text)


@pytest.mark.parametrize(
    ("values", "told"),
    [
        ({"creator": 3}, "creator = 3; allowed: text"),
        ({"caption": "a\0"}, "caption: the control character"),
        ({"keywords": "one"}, "keywords = 'one'; allowed: a list"),
        ({"keywords": [None]}, "keywords = None"),
        ({"rating": 6}, "rating = 6; allowed: a whole number, 1 to 5"),
        ({"rating": True}, "rating = True"),
        ({"dpi": 0}, "dpi = 0"),
        ({"place": "here"}, "place = 'here'; allowed: keep, leave_out"),
        ({"colour": "blue"}, "label.colour is unknown; allowed: creator"),
    ],
)
def test_a_label_that_is_not_possible_is_refused(values, told):
    with pytest.raises(OutputError) as caught:
        label_of(values)
    assert told in str(caught.value)


def test_a_label_comes_back_from_plain_values():
    assert label_of(LABEL.as_mapping()) == LABEL
    assert Label().as_mapping() == {}
