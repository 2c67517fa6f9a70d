"""The place that an error names is that of the one defect in a recipe."""

import pytest

from grading.errors import RecipeError
from grading.recipe.inheritance import look_names, looks_folder
from grading.recipe.load import load_recipe
from recipe.defects import FULL, damaged

SHIPPED = {name: (looks_folder() / f"{name}.yaml").read_text("utf-8") for name in look_names()}


def wrong_places(text, path):
    """What each defect is said to be where the place is another."""
    path.write_text(text, "utf-8")
    load_recipe(path)
    for kind, changed, line, column in damaged(text):
        path.write_bytes(changed.encode("utf-8", "surrogateescape"))
        with pytest.raises(RecipeError) as caught:
            load_recipe(path)
        said = str(caught.value).splitlines()[0]
        place = f"{path}:{line}:{column}: " if column else f"{path}:{line}:"
        if not said.startswith(place):
            yield f"{kind} in {line}:{column} is said to be {said}"


def test_a_full_recipe(tmp_path):
    assert list(wrong_places(FULL, tmp_path / "look.yaml")) == []


def test_lines_that_end_as_on_windows(tmp_path):
    some = "grading: 1\r\ntitle: a\r\n\r\nexposure:\r\n  stops: 99\r\n"
    (tmp_path / "look.yaml").write_bytes(some.encode())
    with pytest.raises(RecipeError, match=r"look\.yaml:5:10: exposure"):
        load_recipe(tmp_path / "look.yaml")


@pytest.mark.slow
@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_looks(name, tmp_path):
    assert list(wrong_places(SHIPPED[name], tmp_path / "look.yaml")) == []
