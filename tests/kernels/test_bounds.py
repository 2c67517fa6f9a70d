"""Every index within its array, also in what a kernel keeps for itself."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__)


@pytest.mark.slow
def test_no_index_is_out_of_bounds(tmp_path):
    """The tests of odd shapes and of pieces again, compiled with a check of each index."""
    left_out = HERE.name, "test_processors.py"
    paths = [*sorted(HERE.parent.rglob("test_*.py")), HERE.parents[1] / "develop/test_demosaic.py"]
    names = [str(path) for path in paths if path.name not in left_out]
    checks = {"NUMBA_BOUNDSCHECK": "1", "NUMBA_CACHE_DIR": str(tmp_path)}
    chosen = "odd or beyond or pieces or tiles or smaller or twin"
    run = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-x", "-k", chosen, *names],
        cwd=HERE.parents[2],
        env=os.environ | checks,
        capture_output=True,
        text=True,
    )
    assert run.returncode == 0, run.stdout
