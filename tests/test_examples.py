"""The examples in docstrings give what they say."""

import doctest
from importlib import import_module
from pathlib import Path

import pytest

import grading

ROOT = Path(grading.__file__).parent
MODULES = [
    ".".join(path.relative_to(ROOT.parent).with_suffix("").parts)
    for path in sorted(ROOT.rglob("*.py"))
    if ">>> " in path.read_text(encoding="utf-8")
]


@pytest.mark.parametrize("name", MODULES)
def test_examples_give_what_they_say(name):
    found = doctest.testmod(import_module(name))
    assert found.attempted > 0 and found.failed == 0
