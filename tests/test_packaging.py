"""What is installed: every package of the source tree, and the shipped looks as data."""

import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SETTINGS = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["setuptools"]


def test_every_package_is_listed():
    found = {
        ".".join(path.parent.relative_to(ROOT).parts)
        for path in (ROOT / "grading").rglob("__init__.py")
    }
    assert set(SETTINGS["packages"]) == found | {"grading", "grading.looks"}


def test_looks_are_packaged():
    folder = ROOT / SETTINGS["package-dir"]["grading.looks"]
    patterns = SETTINGS["package-data"]["grading.looks"]
    packaged = {path for pattern in patterns for path in folder.glob(pattern)}
    assert packaged == {path for path in folder.iterdir() if path.is_file()}
    assert len(packaged) > 5


def test_every_data_file_is_packaged():
    folder = ROOT / "grading"
    data = {p for p in folder.rglob("*") if p.is_file() and "__pycache__" not in p.parts}
    data = {path for path in data if path.suffix != ".py"}
    packaged = set()
    for package, patterns in SETTINGS["package-data"].items():
        if package != "grading.looks":
            home = ROOT.joinpath(*package.split("."))
            packaged |= {path for pattern in patterns for path in home.glob(pattern)}
    assert data <= packaged
