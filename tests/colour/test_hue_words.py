"""Colour words of the ISCC-NBS method against the Munsell hues of their blocks."""

import pytest

from grading.colour import munsell
from grading.colour.hue_words import hue_words


@pytest.mark.parametrize(
    ("word", "central"),
    [
        # K. L. Kelly, J. Res. NBS 61, 427 (1958), hue of the strong centroid; from memory
        ("red", "5R"),
        ("reddish orange", "10R"),
        ("orange", "5YR"),
        ("yellow", "5Y"),
        ("yellow green", "5GY"),
        ("green", "5G"),
        ("bluish green", "5BG"),
        ("blue", "5PB"),
        ("violet", "10PB"),
        ("purple", "5P"),
    ],
)
def test_a_word_lies_at_the_hue_of_its_centroid(word, central):
    found = {each.word: each for each in hue_words()}[word]
    assert abs(found.degrees - munsell.hue_degrees(central)) <= 6
    assert found.munsell == central


def test_words_go_once_around_the_circle():
    degrees = [each.degrees for each in hue_words()]
    first = min(range(len(degrees)), key=lambda i: degrees[i])
    turned = degrees[first:] + degrees[:first]
    assert turned == sorted(turned)


@pytest.mark.parametrize("family", munsell.FAMILIES)
@pytest.mark.parametrize("step", [2.5, 5, 7.5, 10])
def test_the_nearest_hue_of_a_named_hue_is_its_name(family, step):
    name = f"{step:g}{family}"
    assert munsell.nearest_hue(munsell.hue_degrees(name)) == name
