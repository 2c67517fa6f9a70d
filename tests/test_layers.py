"""Imports point downwards only: cli, what a person sees, the engine, stages, kernels, errors."""

import ast
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

import grading

ROOT = Path(grading.__file__).parent
LAYERS = (
    ("docstrings", "errors", "messages", "region", "regular_file", "sky", "stopping",
     "terminal"),
    ("yaml_parser", "yaml_text", "yaml_words", "cdl_text", "grey_image", "colour", "kernels"),
    ("frame", "lens", "pixels"),
    ("signal", "develop", "mending"),
    ("stages", "masks", "inspect", "framing"),
    ("recipe", "files"),
    ("engine", "calibrate"),
    ("shoot", "interchange", "pages", "evening"),
    ("cli", "__main__", "__init__"),
)
"""From the bottom; modules of a layer may use each other but for what `APART` names."""

APART = {"files": ("recipe", "stages", "masks"), "shoot": ("pages", "interchange", "evening")}

ROOMS_OF_FILES = (
    ("__init__", "atomic", "from_mapping", "limits"),
    ("metadata",),
    ("formats", "integrity"),
    ("originals", "sidecar"),
)
"""The same within `files`."""

COMMON_GROUND = tuple(
    f"grading.stages.{name}" for name in ("calibrated", "lens", "levels", "noise_seen", "stage")
)
"""What stages may import of each other."""

LEVEL = {name: level for level, names in enumerate(LAYERS) for name in names}


def home(path):
    relative = path.relative_to(ROOT)
    return relative.parts[0].removesuffix(".py")


def imported(path):
    """Parts of the package that a module imports, wherever in it."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            names = node.module.split(".")
            if names[0] == "grading":
                yield from [names[1]] if names[1:] else (alias.name for alias in node.names)
        elif isinstance(node, ast.Import):
            for alias in node.names:
                if alias.name.startswith("grading."):
                    yield alias.name.split(".")[1]


MODULES = sorted(ROOT.rglob("*.py"))


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_imports_point_downwards(path):
    here = home(path)
    for there in imported(path):
        if there in LEVEL:
            assert LEVEL[there] <= LEVEL[here], f"{here} imports {there}"
            assert there not in APART.get(here, ())


def _modules_imported(path, names):
    """Modules that a module imports, by their full names."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                full = f"{node.module}.{alias.name}"
                yield full if full in names else node.module


def _name(path):
    return ".".join(("grading", *path.relative_to(ROOT).with_suffix("").parts)).removesuffix(
        ".__init__"
    )


def test_no_module_imports_itself_by_way_of_others():
    names = {_name(path): path for path in MODULES}
    graph = {name: {*_modules_imported(names[name], names)} - {name} for name in names}
    assert [*TopologicalSorter(graph).static_order()]


def test_rooms_of_files_are_in_order():
    level = {name: level for level, names in enumerate(ROOMS_OF_FILES) for name in names}
    for path in (ROOT / "files").rglob("*.py"):
        here = path.relative_to(ROOT / "files").parts[0].removesuffix(".py")
        for module in _modules_imported(path, {_name(each) for each in MODULES}):
            if module.startswith("grading.files."):
                there = module.split(".")[2]
                assert there == here or level[there] < level[here], f"{here} imports {there}"


def test_every_part_has_its_place():
    assert {home(path) for path in MODULES} == set(LEVEL)


def test_stages_do_not_import_each_other_but_for_their_common_ground():
    for path in (ROOT / "stages").glob("*.py"):
        if path.stem == "registry":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            module = getattr(node, "module", None) or ""
            if isinstance(node, ast.ImportFrom) and module.startswith("grading.stages"):
                assert node.module in COMMON_GROUND, path


def test_colour_science_is_imported_where_the_chart_is_known_and_nowhere_else():
    def imports_it(path):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [node.module] if isinstance(node, ast.ImportFrom) and not node.level else []
            names += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
            if any(name and name.split(".")[0] == "colour" for name in names):
                return True
        return False

    assert [path.relative_to(ROOT) for path in MODULES if imports_it(path)] == [
        Path("calibrate/chart.py")
    ]
