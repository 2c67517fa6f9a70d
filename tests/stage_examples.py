"""What the tests of stages offer to other tests: `EXAMPLE`, and parameters that act `ALONE`."""

from importlib import import_module

from grading.stages.registry import PARTS, PIPELINE

_TESTS = {stage.name: import_module(f"stages.test_{stage.name}") for stage in PIPELINE}

_PARTS = [part.name for part in PARTS]

EXAMPLES = {name: import_module(f"stages.test_{name}").EXAMPLE for name in _PARTS}
"""Parameters of every part of a recipe that change most pictures."""

ALONE = [(stage, values) for stage in PIPELINE for values in _TESTS[stage.name].ALONE]
"""Each stage with parameters any of which has its effect with all others at their defaults."""
