"""Colour decisions as XML: what is written is read back, here and by another library."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from grading.cdl_text import Decision, read_decision, write_decision
from grading.errors import RecipeError

DUSK = Decision((1.2, 1.0, 0.9), (0.0, -0.02, 0.01), (1.0, 1.1, 0.95), 0.8)

COLLECTION = """<?xml version="1.0" encoding="UTF-8"?>
<ColorCorrectionCollection xmlns="urn:ASC:CDL:v1.01">
  <ColorCorrection id="day">
    <SOPNode><Slope>1 1 1</Slope><Offset>0 0 0</Offset><Power>1.1 1 1</Power></SOPNode>
  </ColorCorrection>
  <ColorCorrection id="dusk">
    <SOPNode>
      <Description>cooler &amp; darker</Description>
      <Slope> 1.2 1 .9 </Slope><Offset>0 -2e-2 0.01</Offset><Power>1 1.1 0.95</Power>
    </SOPNode>
    <SATNode><Saturation>0.8</Saturation></SATNode>
  </ColorCorrection>
</ColorCorrectionCollection>
"""


def one(body):
    return f'<ColorCorrection id="a">\n{body}\n</ColorCorrection>'


def test_one_of_a_collection():
    assert read_decision(COLLECTION, "a.ccc", "dusk") == DUSK


def test_what_is_not_stated_is_the_identity():
    day = read_decision(COLLECTION, "a.ccc", "day")
    assert day == Decision(power=(1.1, 1.0, 1.0))
    assert read_decision(one(""), "a.cc") == Decision()


def test_a_decision_list():
    text = f"<ColorDecisionList><ColorDecision>{one('')}</ColorDecision></ColorDecisionList>"
    assert read_decision(text, "a.cdl") == Decision()


def in_range(low, high):
    return st.floats(low, high, allow_subnormal=False)


@given(
    slope=st.tuples(*3 * [in_range(0, 100)]),
    offset=st.tuples(*3 * [in_range(-10, 10)]),
    power=st.tuples(*3 * [in_range(0.01, 100)]),
    saturation=in_range(0, 100),
    name=st.text(st.characters(exclude_categories=("Cc", "Cs")), max_size=20),
)
def test_what_is_written_is_read_back(slope, offset, power, saturation, name):
    decision = Decision(slope, offset, power, saturation)
    text = write_decision(decision, name, [f"a < b & {name}"], "codes")
    assert read_decision(text, "a.cc") == decision


def test_another_library_reads_what_is_written(tmp_path):
    ocio = pytest.importorskip("PyOpenColorIO", reason="reads the files back")
    path = tmp_path / "dusk.cc"
    path.write_text(write_decision(DUSK, "dusk", ["first", "second"], "codes"))
    read = ocio.CDLTransform.CreateFromFile(str(path), "dusk")
    assert tuple(read.getSlope()) == DUSK.slope
    assert tuple(read.getOffset()) == DUSK.offset
    assert tuple(read.getPower()) == DUSK.power
    assert read.getSat() == DUSK.saturation


@pytest.mark.parametrize(
    "kind", ["ColorCorrection", "ColorCorrectionCollection", "ColorDecisionList"]
)
def test_what_another_library_writes_is_read(kind):
    ocio = pytest.importorskip("PyOpenColorIO", reason="writes the files")
    cdl = ocio.CDLTransform()
    cdl.setSlope(DUSK.slope)
    cdl.setOffset(DUSK.offset)
    cdl.setPower(DUSK.power)
    cdl.setSat(DUSK.saturation)
    text = ocio.GroupTransform([cdl]).write(kind, ocio.Config.CreateRaw())
    assert read_decision(text, "dusk.cc") == DUSK


@pytest.mark.parametrize(
    ("text", "chosen", "expected"),
    [
        (
            COLLECTION,
            None,
            "a.cc: the file holds 2 colour corrections; allowed: day, dusk; "
            "state which one with id",
        ),
        (
            COLLECTION,
            "dus",
            "a.cc: there is no ColorCorrection with id dus; allowed: day, dusk; did you mean dusk?",
        ),
        (
            "<look/>",
            None,
            "a.cc:1: this is not ASC CDL XML (there is no ColorCorrection in it); "
            "name a .cc, .ccc or .cdl file",
        ),
        (
            one("<Slope>1 2</Slope>"),
            None,
            "a.cc:2: Slope is 1 2; allowed: three numbers, each at least 0; "
            "correct the file, or export it again",
        ),
        (
            one("\n<Power>1 0 1</Power>"),
            None,
            "a.cc:3: Power is 1 0 1; allowed: three numbers, each above 0; "
            "correct the file, or export it again",
        ),
        (
            one("<Offset>0 nan 0</Offset>"),
            None,
            "a.cc:2: Offset is 0 nan 0; allowed: three numbers, each finite; "
            "correct the file, or export it again",
        ),
        (
            one("<Saturation></Saturation>"),
            None,
            "a.cc:2: Saturation is empty; allowed: a number at least 0; "
            "correct the file, or export it again",
        ),
        (
            "<ColorCorrection>\n<SOPNode></Slope>",
            None,
            "a.cc:2:12: this is not ASC CDL XML (mismatched tag); "
            "name a .cc, .ccc or .cdl file, or export it again",
        ),
        (
            '<!DOCTYPE a [\n<!ENTITY b "c">\n]>\n<ColorCorrection/>',
            None,
            "a.cc:1: a document type declaration; "
            "delete the line with <!DOCTYPE; a colour decision needs none",
        ),
    ],
)
def test_what_is_said_of_a_bad_file(text, chosen, expected):
    with pytest.raises(RecipeError) as caught:
        read_decision(text, "a.cc", chosen)
    assert str(caught.value) == expected
