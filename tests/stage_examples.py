"""What the tests of stages offer to other tests: `EXAMPLE`, and parameters that act `ALONE`."""

from importlib import import_module

from grading.stages.registry import PIPELINE, STAGES

_TESTS = {stage.name: import_module(f"stages.test_{stage.name}") for stage in PIPELINE}

_KEYS = ["spots", "lens", *(stage.name for stage in STAGES)]

EXAMPLES = {key: import_module(f"stages.test_{key}").EXAMPLE for key in _KEYS}
"""Parameters of every stage that change most pictures."""

ALONE = [(stage, values) for stage in PIPELINE for values in _TESTS[stage.name].ALONE]
"""Each stage with parameters any of which has its effect with all others at their defaults."""
