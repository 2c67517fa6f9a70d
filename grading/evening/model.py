"""The shoot file as one model; notes hold the keys of a recipe, taken from the stages' own."""

from functools import cache
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, SkipValidation, create_model

from grading.engine.output import OUTPUT_SPACES, SHARPEN_SMALLER, SIDES
from grading.evening.clocks import check_offset
from grading.evening.names import ALLOWED, check_pattern
from grading.files.formats.registry import FORMATS
from grading.files.metadata.label import DPI, KEEP, LEAVE_OUT, check_text
from grading.recipe.keys import linked
from grading.recipe.model import RECIPE_KEYS
from grading.stages.stage import Model, parameter

VERSION = 1
"""Of the format of shoot files."""

WORST, BEST = 1, 5
"""Marks of a frame; the Rating of XMP goes from 1 to 5, too."""

Names = Annotated[list[str], Field(min_length=1)]
Run = Annotated[list[str], Field(min_length=2, max_length=2)]
Mark = Annotated[int, Field(ge=WORST, le=BEST)]
Pattern = Annotated[str, AfterValidator(check_pattern)]
Text = Annotated[str, AfterValidator(check_text)]
Offset = Annotated[str, AfterValidator(check_offset)]
Side = Annotated[int, Field(ge=SIDES[0], le=SIDES[1])]
Box = Annotated[list[Side], Field(min_length=2, max_length=2)]

Keys = create_model(
    "Keys",
    __base__=Model,
    **{
        name: (Annotated[kind, SkipValidation], field)
        for name, (kind, field) in RECIPE_KEYS.items()
    },
)
"""Keys of a recipe as notes have them: checked once they are laid over the look's."""


class _Notes(Keys):
    looks: dict[str, Keys] = parameter(
        {}, "Recipe keys for one look only, under the look's name; they come last."
    )


class Note(_Notes):
    leave_out: bool = parameter(False, "true: this frame is not rendered.")
    mark: Mark | None = parameter(None, "How good it is; 5 is the best.")
    caption: Text | None = parameter(
        None, "What is to be seen, in a line or two; the files carry it as their description."
    )


class Group(_Notes):
    frames: Annotated[list[str | Run], Field(min_length=1)] = parameter(
        ...,
        "Frames by name, or by a pattern such as harbour_0*; [first, last] means those two and all"
        " that were captured between them.",
    )


class Course(Model):
    at: Annotated[dict[str, float], Field(min_length=1)] = parameter(
        ...,
        "Values at frames, by name, or at times such as 19:30. Between them the value runs on a"
        " monotone curve, kelvin in mired; before the first and after the last it stays.",
    )
    by: Literal["time", "light"] = parameter(
        "time", "What it runs along: the time of capture, or the light of the scene as measured."
    )


class Level(Model):
    exposure: float = parameter(
        1.0,
        "How much of the unevenness of exposure is taken away: jumps of the settings, errors of the"
        " meter and of the shutter.",
        unit="fraction", minimum=0, maximum=1,
    )  # fmt: skip
    white: float = parameter(
        1.0,
        "How much of the camera's wandering guess of the white is taken away.",
        unit="fraction", minimum=0, maximum=1,
    )  # fmt: skip
    keep_fall: float = parameter(
        0.2,
        "How much of the fall of the light stays to be seen: 0 holds every frame alike, 1 leaves"
        " all of it.",
        unit="fraction", minimum=0, maximum=1,
    )  # fmt: skip
    keep_cooling: float = parameter(
        0.4,
        "How much of the cooling of the light stays to be seen: 0 makes every frame neutral in its"
        " own light, 1 balances all of them for one light.",
        unit="fraction", minimum=0, maximum=1,
    )  # fmt: skip
    limit: float = parameter(
        3.0,
        "A frame that needs more is corrected by so much, and reported.",
        unit="stops", minimum=0, maximum=10,
    )  # fmt: skip
    reference: str | None = parameter(
        None, "A frame that stays as it is, which the rest meet; else the middle of the set."
    )


class Credits(Model):
    creator: Text | None = parameter(None, "Who took the pictures.")
    credit: Text | None = parameter(None, "The credit line that is to be printed.")
    rights: Text | None = parameter(None, "The copyright notice.")
    rights_page: Text | None = parameter(None, "Address of a web page about the rights.")
    terms: Text | None = parameter(None, "What the pictures may be used for.")
    keywords: Annotated[list[Text], Field(min_length=1)] | None = parameter(
        None, "What the pictures are about, a word or two each."
    )


class Delivery(Model):
    folder: Pattern = parameter(
        ..., "Folder of the files, relative to the shoot file; fields as in name."
    )
    name: Pattern = parameter(
        "{stem}", f"What the files are called, without their ending. Fields: {ALLOWED}."
    )
    format: Literal[tuple(FORMATS)] = parameter("jpeg", "Kind of file.")
    space: Literal[OUTPUT_SPACES] = parameter("srgb", "Colour space.")
    long_edge: int | None = parameter(
        None, "Longer side; never enlarged.", unit="pixels", minimum=SIDES[0], maximum=SIDES[1],
    )  # fmt: skip
    short_edge: int | None = parameter(
        None, "Shorter side; never enlarged.", unit="pixels", minimum=SIDES[0], maximum=SIDES[1],
    )  # fmt: skip
    box: Box | None = parameter(
        None, "[width, height] that the picture fits into; never enlarged.", unit="pixels"
    )
    dpi: int | None = parameter(
        None, "Density in print that the file states; the pixels stay as they are.",
        unit="pixels an inch", minimum=DPI[0], maximum=DPI[1],
    )  # fmt: skip
    quality: int = parameter(92, "Of a format that loses something.", minimum=1, maximum=100)
    sharpen: float | None = parameter(
        None,
        "Share of the softness of one pixel's width that is taken back; absent:"
        f" {SHARPEN_SMALLER:g} where a size is stated, else none.",
        unit="fraction", minimum=0, maximum=1,
    )  # fmt: skip
    credits: Credits | None = parameter(
        None, "Credits of this delivery; each key wins over the same one of the shoot."
    )
    place: Literal[LEAVE_OUT, KEEP] = parameter(
        LEAVE_OUT, "Whether the files and their sidecars say where the frames were taken."
    )
    manifest: bool = parameter(
        False,
        "true: once all is made, the folder gets a list SHA256SUMS, by which sha256sum checks it.",
    )
    looks: Names | None = parameter(None, "Only these of the shoot's looks.")
    marks: Annotated[list[Mark], Field(min_length=1)] | None = parameter(
        None, "Only frames with one of these marks."
    )


class Shoot(Model):
    shoot: Literal[1] = parameter(..., "Version of the format of shoot files.")
    title: str | None = parameter(None, "A name for people.")
    originals: Names = parameter(
        ..., "Files, folders and patterns such as card/*.dng, relative to this file."
    )
    pairs: Literal["raw", "jpeg", "both"] = parameter(
        "raw", "Which to take of a raw and a JPEG of the same name in one folder."
    )
    clocks: dict[str, Offset] = parameter(
        {},
        "What is added to the times of a camera whose clock was wrong, by its model, such as Field"
        " Two: +1:03:20. The files keep the time that the camera wrote.",
    )
    looks: Names = parameter(
        ..., "Recipes: paths relative to this file, or names of shipped looks."
    )
    courses: dict[str, Course] = parameter(
        {}, "Recipe keys that run through the evening, such as exposure.stops."
    )
    level: Level | None = parameter(
        None, "Even out exposure and white over the set, as measured in the frames."
    )
    groups: dict[str, Group] = parameter(
        {}, "Frames that share notes, each group under a name of your own, in order."
    )
    frames: dict[str, Note] = parameter({}, "Notes on frames, each under the frame's name.")
    spots: str | Names | None = parameter(
        None,
        "A recipe of spots, relative to this file, as `grading spots` writes it, or one for each"
        " camera: mended in the frames of the camera that it states, or in every frame.",
    )
    marks: str | None = parameter(
        None,
        "A marks file, relative to this file: marks and framing of frames, as `grading inspect"
        " --write` proposes them. Notes on frames win.",
    )
    credits: Credits | None = parameter(None, "Credits of all deliveries.")
    deliveries: Annotated[dict[str, Delivery], Field(min_length=1)] = parameter(
        ..., "What is handed over, each delivery under a name of your own."
    )


@cache
def shoot_schema() -> dict:
    """JSON schema of `Shoot`."""
    return Shoot.model_json_schema(by_alias=True)


@cache
def shoot_root() -> dict:
    """Schema node of a whole shoot file, references followed."""
    return linked(shoot_schema())
