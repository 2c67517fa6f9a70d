"""What the README shows is what happens."""

import re
import shutil
from pathlib import Path

import pytest

from grading.errors import RecipeError
from grading.evening.deliveries import jobs_of
from grading.evening.load import load_shoot
from grading.recipe.load import load_recipe

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "README.md").read_text(encoding="utf-8")
RECIPE, SHOOT = re.findall(r"```yaml\n(.*?)```", TEXT, re.DOTALL)
(PYTHON,) = re.findall(r"```python\n(.*?)```", TEXT, re.DOTALL)


def test_the_recipe_is_one(tmp_path):
    path = tmp_path / "ferry.yaml"
    path.write_text(RECIPE, encoding="utf-8")
    assert load_recipe(path).title == "Ferry home"


def test_the_mistake_is_reported_like_that(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    wrong = RECIPE.replace("shadows: 1.0", "shadows: 9")
    Path("ferry.yaml").write_text(wrong, encoding="utf-8")
    with pytest.raises(RecipeError) as caught:
        load_recipe("ferry.yaml")
    assert f"\n{caught.value}\n" in TEXT


def test_the_shoot_is_one(tmp_path):
    (tmp_path / "ferry.yaml").write_text(RECIPE, encoding="utf-8")
    (tmp_path / "evening.yaml").write_text(SHOOT, encoding="utf-8")
    card = tmp_path / "card"
    card.mkdir()
    for number, path in enumerate(sorted((ROOT / "demo_images").glob("*.dng"))):
        names = (4011, 4013, 4016, 4020, 4022, 4024, 4027, 4030)
        shutil.copy(path, card / f"DSC_{names[number]}.dng")
    evening = load_shoot(tmp_path / "evening.yaml")
    assert len(jobs_of(evening)) == 14 and len(evening.groups["bow"]) == 4


def test_three_lines_of_python(monkeypatch):
    monkeypatch.chdir(ROOT)
    names = {}
    exec(PYTHON, names)  # noqa: S102
    assert names["picture"].array.shape == (1024, 1536, 3)


def test_every_verb_is_reported():
    from grading.cli import main

    assert [verb for verb in main.commands if verb not in TEXT] == []
