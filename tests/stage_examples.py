"""What the tests of stages offer to other tests: `EXAMPLE`, and parameters that act `ALONE`."""

from importlib import import_module

from grading.stages.registry import STAGES

_TESTS = {stage.name: import_module(f"stages.test_{stage.name}") for stage in STAGES}

EXAMPLES = {name: tests.EXAMPLE for name, tests in _TESTS.items()}
"""Parameters of every stage that change most pictures."""

ALONE = [(stage, values) for stage in STAGES for values in _TESTS[stage.name].ALONE]
"""Each stage with parameters any of which has its effect with all others at their defaults."""
