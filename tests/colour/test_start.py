"""The colour package starts with numpy alone."""

import subprocess
import sys
from pathlib import Path

import grading.colour

MODULES = sorted(path.stem for path in Path(grading.colour.__path__[0]).glob("[a-z]*.py"))
HEAVY = {"colour", "numba", "scipy", "PIL", "imagecodecs", "tifffile", "rawpy"}


def test_no_heavy_module_is_imported():
    assert len(MODULES) >= 9
    program = "import sys\n" + "".join(f"import grading.colour.{name}\n" for name in MODULES)
    program += "print(*{name.partition('.')[0] for name in sys.modules})"
    run = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(grading.colour.__path__[0]).parents[1],
    )
    assert HEAVY.isdisjoint(run.stdout.split())
