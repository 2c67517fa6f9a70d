"""Sidecars: what is written is what is read, and damage is reported with its place."""

import copy
import dataclasses
import hashlib
import math
import os

import numpy as np
import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from grading.errors import OriginalError, SidecarError
from grading.files.originals import open_frame
from grading.files.sidecar import (
    EngineRecord,
    OutputRecord,
    RecipeRecord,
    Sidecar,
    as_bytes,
    check_file,
    describe_original,
    engine_facts,
    find_original,
    original_of,
    read_sidecar,
    sha256_of,
    sidecar_path,
)
from grading.yaml_text import dump_yaml

RESOLVED = {
    "exposure": {"stops": 0.1 + 0.2},
    "white_balance": {"kelvin": 5423.123456789012, "duv": -1e-05},
    "hues": [{"centre": 1.0, "on": True}, {"centre": 1e22, "name": None}],
}


@pytest.fixture
def shoot(tmp_path):
    """An original, an output and its sidecar, as a run leaves them."""
    originals, outputs = tmp_path / "originals", tmp_path / "out"
    originals.mkdir()
    outputs.mkdir()
    (originals / "é 1.dng").write_bytes(b"original")
    (outputs / "a.jpg").write_bytes(b"output")
    sidecar = Sidecar(
        describe_original(originals / "é 1.dng", outputs),
        OutputRecord("a.jpg", 6, sha256_of(outputs / "a.jpg"), "jpeg", "srgb", 92, None, 300, 200),
        RecipeRecord("dusk", "0" * 64, RESOLVED, {"exposure.stops": "dusk.yaml:4"}),
        EngineRecord("0.1.0", "3.12.0", "Linux x86_64", {"numpy": "2.0"}),
        {"time": "2024-06-01T21:40:05+02:00", "iso": 400.0},
        {"clipped": [0.0, 0.001, 1 / 3]},
    )
    path = sidecar_path(outputs / "a.jpg")
    path.write_bytes(as_bytes(sidecar))
    return path, sidecar


def test_what_is_written_is_read(shoot):
    path, sidecar = shoot
    assert path.name == "a.jpg.yaml"
    assert read_sidecar(path) == sidecar
    assert sidecar.original.path == "../originals/é 1.dng"
    assert find_original(path, sidecar) == path.parent.parent / "originals" / "é 1.dng"


def test_it_is_plain_yaml_with_a_version_first(shoot):
    path, _ = shoot
    text = path.read_text("utf-8")
    assert text.startswith("sidecar: 4\noriginal:\n  name: é 1.dng\n")
    assert yaml.safe_load(text)["recipe"]["resolved"] == RESOLVED


@given(st.floats(allow_nan=False))
def test_floats_come_back_bit_for_bit(tmp_path_factory, value):
    path = tmp_path_factory.getbasetemp() / "a.tif.yaml"
    sidecar = Sidecar(
        describe_original(__file__, path.parent),
        OutputRecord("a.tif", 0, "", "tiff", "srgb", None, 1, 1, 1),
        RecipeRecord("r", "", {"value": value}, {}),
        EngineRecord("", "", "", {}),
        {},
        {},
    )
    path.write_bytes(as_bytes(sidecar))
    read = read_sidecar(path).recipe.resolved["value"]
    assert read == value and math.copysign(1, read) == math.copysign(1, value)


def test_sha256_of_a_published_message(tmp_path):
    """FIPS 180-4 example, one block message "abc"."""
    (tmp_path / "abc").write_bytes(b"abc")
    expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert sha256_of(tmp_path / "abc") == expected
    assert hashlib.sha256(b"abc").hexdigest() == expected


def test_a_file_is_held_against_the_record(shoot):
    path, sidecar = shoot
    output = path.parent / "a.jpg"
    check_file(output, sidecar.output, path, "look for it")
    for content in (b"outpuT", b"output!", b""):
        output.write_bytes(content)
        with pytest.raises(SidecarError, match=f"allowed: 6 bytes .* {sidecar.output.sha256}"):
            check_file(output, sidecar.output, path, "look for it")
    output.unlink()
    with pytest.raises(SidecarError, match="a.jpg cannot be read .*; look for it"):
        check_file(output, sidecar.output, path, "look for it")


@pytest.mark.skipif(os.name == "nt", reason="special files of POSIX")
def test_what_is_no_file_is_never_read(shoot):
    path, sidecar = shoot
    output = path.parent / "a.jpg"
    output.unlink()
    os.mkfifo(output)
    with pytest.raises(SidecarError, match="not a regular file"):
        check_file(output, sidecar.output, path, "")
    output.unlink()
    output.symlink_to("/dev/zero")
    with pytest.raises(SidecarError, match="not a regular file"):
        check_file(output, sidecar.output, path, "")


def test_originals_that_were_moved_are_looked_for_in_the_folder_stated(shoot, tmp_path):
    path, sidecar = shoot
    assert find_original(path, sidecar, tmp_path / "archive") == tmp_path / "archive" / "é 1.dng"


@pytest.mark.parametrize("kind", ["output", "original"])
@pytest.mark.parametrize(
    "name", ["../../escaped.jpg", "/etc/passwd", "sub/a.jpg", "..", ".", "", "a\0b", "a/"]
)
def test_a_name_that_is_a_path_is_refused(shoot, kind, name):
    """As a stranger would write it, digest and all."""
    path, sidecar = shoot
    named = dataclasses.replace(getattr(sidecar, kind), name=name)
    path.write_bytes(as_bytes(dataclasses.replace(sidecar, **{kind: named})))
    with pytest.raises(SidecarError, match=rf"yaml:\d+:\d+: {kind}.name = .*plain name"):
        read_sidecar(path)


def test_another_outputs_sidecar_is_refused(shoot):
    path, _ = shoot
    copied = path.with_name("b.jpg.yaml")
    copied.write_bytes(path.read_bytes())
    with pytest.raises(SidecarError, match="b.jpg.yaml: this is the sidecar of a.jpg"):
        read_sidecar(copied)


def _leaves(value, at=()):
    if isinstance(value, dict):
        for key, inside in value.items():
            yield from _leaves(inside, (*at, key))
    else:
        yield at, value


def test_every_single_edit_is_noticed(shoot):
    path, _ = shoot
    values = yaml.safe_load(path.read_text("utf-8"))
    edited = 0
    for at, value in list(_leaves(values)):
        changed = copy.deepcopy(values)
        inside = changed
        for key in at[:-1]:
            inside = inside[key]
        other = {str: f"{value}x", int: 7, float: 0.5, type(None): 1, list: [], bool: not value}
        inside[at[-1]] = other[type(value)]
        path.write_text(dump_yaml(changed) + "...\n", "utf-8")
        with pytest.raises(SidecarError, match=r"a\.jpg\.yaml"):
            read_sidecar(path)
        edited += 1
    assert edited > 25


def test_the_layout_of_the_text_is_no_change(shoot):
    path, sidecar = shoot
    values = yaml.safe_load(path.read_text("utf-8"))
    text = yaml.safe_dump(values, default_flow_style=True, sort_keys=True, allow_unicode=True)
    path.write_text(text.replace("1.0e+22", "1e22") + "...\n", "utf-8")
    assert read_sidecar(path) == sidecar


@pytest.mark.parametrize(
    ("old", "new", "line", "message"),
    [
        ("sidecar: 4", "sidecar: 3", 1, "sidecar version 3; allowed: sidecar: 4"),
        ("  width: 300", "  width: wide", 15, "'wide'; allowed: a whole number"),
        ("  width: 300", "  width: 3.5", 15, "3.5; allowed: a whole number"),
        ("  quality: 92", "  quality: best", 13, "'best'; allowed: a whole number or null"),
        ("  sharpen: 0.0", "  sharpen: hard", None, "'hard'; allowed: a number"),
        ("  width: 300\n", "", 8, "'width' is missing"),
        ("  width: 300", "  breadth: 300", None, "'(width' is missing|breadth' is unknown)"),
        ("  name: a.jpg", "  name: [a.jpg", 8, "a bracket is opened and not closed"),
        ("  name: a.jpg", "\tname: a.jpg", 8, "a tab where YAML wants spaces"),
        ("  libraries:\n    numpy: '2.0'", "  libraries: none", None, "'none'; allowed: a mapping"),
    ],
)
def test_damage_is_told_with_its_place(shoot, old, new, line, message):
    path, _ = shoot
    text = path.read_text("utf-8")
    assert old in text
    path.write_text(text.replace(old, new), "utf-8")
    place = rf"a\.jpg\.yaml:{line if line else '[0-9]+'}:[0-9]+: .*"
    with pytest.raises(SidecarError, match=place + message):
        read_sidecar(path)


@pytest.mark.parametrize(
    "content", [b"", b"text", b"- 1\n- 2", b"\xff\xfe\x00", b"a: !!python/x 1", b"a: &b 1\nc: *d"]
)
def test_what_is_no_sidecar(tmp_path, content):
    path = tmp_path / "a.yaml"
    path.write_bytes(content)
    with pytest.raises(SidecarError, match=r"a\.yaml"):
        read_sidecar(path)


def test_cut_off_anywhere(shoot):
    path, _ = shoot
    content = path.read_bytes()
    for kept in range(len(content)):
        path.write_bytes(content[:kept])
        with pytest.raises(SidecarError):
            read_sidecar(path)


def test_missing_files(tmp_path):
    with pytest.raises(SidecarError, match="there is no such file"):
        read_sidecar(tmp_path / "none.yaml")
    with pytest.raises(OriginalError, match="cannot be read"):
        describe_original(tmp_path / "none.dng", tmp_path)


def test_engine_facts_name_what_is_at_work():
    import numpy
    import rawpy

    facts = engine_facts()
    assert facts.libraries["numpy"] == numpy.__version__
    assert facts.libraries["libraw"] == ".".join(map(str, rawpy.libraw_version))
    assert "not installed" not in facts.libraries.values()


def test_a_frame_names_the_bytes_it_was_decoded_from(tmp_path):
    path = tmp_path / "in" / "a.png"
    path.parent.mkdir()
    picture = np.random.default_rng(0).integers(0, 256, (20, 30, 3), dtype=np.uint8)
    Image.fromarray(picture).save(path)
    frame = open_frame(path)
    stated = describe_original(path, tmp_path)
    path.unlink()
    assert original_of(frame.facts, tmp_path) == stated


def test_a_path_that_no_system_could_follow_is_refused(shoot):
    path, sidecar = shoot
    original = dataclasses.replace(sidecar.original, path="a\0b")
    path.write_bytes(as_bytes(dataclasses.replace(sidecar, original=original)))
    with pytest.raises(SidecarError, match=r"yaml:\d+:\d+: original.path = .*zero character"):
        read_sidecar(path)
