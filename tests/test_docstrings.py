"""Docstrings that are content, with and without Python keeping them."""

import io
import os
import subprocess
import sys
from contextlib import redirect_stdout

from grading.docstrings import docstring
from grading.masks import where
from grading.masks.gradient import Gradient

WORDS = "--help|render --help|explain|explain lift|explain where|schema|looks|check harbour-dusk"

PROGRAM = f"""
from click.testing import CliRunner
from grading.cli import main
for words in {WORDS!r}.split("|"):
    result = CliRunner().invoke(main, words.split(), prog_name="grading")
    print(result.exit_code, result.output.encode(), words)
"""


def test_what_is_there_is_taken_without_its_indentation():
    assert docstring(where) == where.__doc__.strip()
    assert docstring(Gradient) == Gradient.__doc__


def test_what_is_left_out_is_read_from_the_source(monkeypatch):
    docstring.cache_clear()
    whole = [docstring(thing) for thing in (where, Gradient, docstring)]
    docstring.cache_clear()
    for thing in (where, Gradient, docstring.__wrapped__):
        monkeypatch.setattr(thing, "__doc__", None)
    assert [docstring(t) for t in (where, Gradient, docstring.__wrapped__)] == whole
    docstring.cache_clear()


def test_what_has_none_and_what_has_no_source():
    def nothing():
        pass

    assert docstring(nothing) is None
    assert docstring(type("Made", (), {})) is None


def test_all_is_reported_the_same_by_a_python_that_leaves_docstrings_out():
    places = {"PYTHONPATH": os.pathsep.join(sys.path), "PYTHONDONTWRITEBYTECODE": "1"}
    environment = os.environ | places
    command = [sys.executable, "-P", "-OO", "-c", PROGRAM]
    bare = subprocess.run(command, env=environment, capture_output=True, text=True)
    plain = io.StringIO()
    with redirect_stdout(plain):
        exec(PROGRAM)  # noqa: S102
    assert (bare.returncode, bare.stderr) == (0, "")
    assert bare.stdout == plain.getvalue()
    assert [line[:2] for line in bare.stdout.splitlines()] == ["0 "] * 8
    assert "Lift: " in bare.stdout and "Grade photographs by recipe" in bare.stdout
