"""What a first run compiles, where, and that the run itself then compiles nothing."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

import dng
from files import opcode_lists
from files.charts import MATRIX_A
from frames_in_memory import recipe
from grading import kernels
from grading.cli import main
from grading.engine import ready, rehearse
from grading.files.originals.lens import may_state_lens
from grading.masks.registry import SHAPES
from grading.shoot.originals import may_state_lenses
from grading.stages.registry import PIPELINE
from stage_examples import EXAMPLES

DEMO = Path(__file__).parents[2] / "demo_images"
LABEL = "Compiling the engine for this processor, once"
EVERY_PART = recipe(
    **EXAMPLES,
    framing={"straighten": 2.0},
    local={
        "sky": {
            "where": {
                "all": [
                    {"gradient": {"full": [0.5, 0.0], "none": [0.5, 0.5]}},
                    {"not": {"ellipse": {"centre": [0.5, 0.5], "radius": [0.2, 0.1]}}},
                    {"lightness": {"above": -6.0}, "grow": 0.01},
                    {"any": [{"hue": {"centre": 60.0}}, {"chroma": {"above": 0.1}}]},
                    {"detail": {"below": 0.4}},
                    {"polygon": {"points": [[0, 0], [1, 0], [0, 1]]}},
                ]
            },
            "exposure": {"stops": -0.7},
        }
    },
)
ADDS_NOTHING = """
import sys
import grading
from grading.engine.output import Output
from grading.engine.ready import needed
from grading.engine import rehearse
from grading.masks.registry import SHAPES
from grading.recipe.load import Stated

def signatures():
    return {{
        (function.py_func.__qualname__, signature)
        for name, module in sys.modules.items() if name.startswith("grading.kernels.")
        for function in vars(module).values() if hasattr(function, "py_func")
        for signature in function.signatures
    }}

look, output = grading.load_recipe({look!r}), Output(**{asked!r})
if {turned}:
    look = Stated(None, {{**look.as_mapping(), "framing": {{"straighten": 2.0}}}}, {{}}).checked()
names = needed([look], {kinds!r}, {{output.bits}}, resized=output.resizes, lens={lens})
for name in names:
    rehearse.REHEARSALS[name]()
before = signatures()
grading.render(grading.open_frame({original!r}), look, output)
print(len(before) > 10, signatures() - before)
"""


@pytest.fixture
def started(monkeypatch):
    """Processes that report one rehearsal and then go on for a minute; filled as they start."""
    processes = []
    script = "import os, time; os.write(1, b'.'); time.sleep(60)"

    def start(names, waiting, report):
        processes.append(subprocess.Popen([sys.executable, "-c", script], stdout=report))
        return processes[-1]

    monkeypatch.setattr(ready, "_start", start)
    return processes


def test_kernels_of_stages_and_shapes_can_be_rehearsed():
    for stage in PIPELINE:
        for each in (stage, stage.through_mask or stage):
            assert set(each.kernels) <= rehearse.REHEARSALS.keys()
            assert each.kernels or each.name == "exposure"  # which NumPy does
    for shape in SHAPES:
        assert shape.kernels and set(shape.kernels) <= rehearse.REHEARSALS.keys()


def test_all_that_can_be_needed_can_be_rehearsed():
    everything = set()
    for bits in {8}, {16}, {8, 16}:
        for resized in (True, False):
            everything |= ready.needed([EVERY_PART], {"raw", "jpeg"}, bits, resized)
    assert everything == set(rehearse.REHEARSALS)


def test_what_a_recipe_does_not_need_is_not_compiled():
    assert ready.needed([recipe(exposure={"stops": 1})], {"rendered"}, {8}) == {
        "mix", "apply_tone_curve", "8-bit codes",
    }  # fmt: skip


def test_ten_bits_are_codes_of_sixteen_in_memory():
    names = [ready.needed([recipe()], {"rendered"}, bits) for bits in ({10}, {16}, {10, 16})]
    assert names[0] == names[1] == names[2]
    mixed = ready.needed([recipe()], {"rendered"}, {8, 10}, resized=True)
    assert {"both codes", "both resized"} <= mixed


def test_frames_at_reduced_size_are_not_developed():
    names = ready.needed([recipe()], {"raw"}, {8}, reduced=True)
    assert "reduced" in names and not names & set(ready.DEVELOPED)


@pytest.mark.parametrize(
    ("look", "kind", "asked", "turned"),
    [
        ("harbour-dusk", "raw", {"format": "tiff"}, False),
        ("lamp-glow", "raw", {"format": "tiff", "long_edge": 300}, False),
        ("lamp-glow", "jpeg", {"format": "tiff"}, True),
        ("harbour-dusk", "raw", {"format": "avif", "space": "display-p3"}, True),
        ("lamp-glow", "raw", {"format": "png", "space": "grey", "box": (300, 200)}, True),
        ("harbour-dusk", "jpeg", {"format": "tiff8", "space": "oprgb"}, False),
    ],
)
def test_a_render_uses_no_types_that_were_not_rehearsed(tmp_path, look, kind, asked, turned):
    original = DEMO / "harbour_07.dng"
    if kind == "jpeg":
        original = tmp_path / "a.jpg"
        Image.linear_gradient("L").convert("RGB").save(original, progressive=True)
    script = ADDS_NOTHING.format(
        look=look, original=str(original), asked=asked, kinds={kind}, turned=turned, lens=False
    )
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert run.stdout == "True set()\n", run.stderr


def _states_its_lens(path):
    """A raw that states distortion, lateral colour, vignetting and a map of gains."""
    codes = np.random.default_rng(0).integers(2000, 9000, (160, 240)).astype(np.uint16)
    bent = [[scale, 0.01, 0, 0, 0, 0] for scale in (0.992, 0.99, 0.988)]
    lists = {
        opcode_lists.LIST_2: opcode_lists.listed(
            opcode_lists.gain_map(np.linspace(1, 1.2, 12).reshape(3, 4, 1), (160, 240))
        ),
        opcode_lists.LIST_3: opcode_lists.listed(
            opcode_lists.vignette(0.2), opcode_lists.warp(*bent)
        ),
    }
    dng.write_dng(path, codes, white=16000, color_matrix1=MATRIX_A, illuminant1="A",
                  as_shot_neutral=(0.5, 1.0, 0.6), opcode_lists=lists)  # fmt: skip


def test_nor_does_one_of_a_raw_that_states_its_lens(tmp_path):
    original = tmp_path / "a.dng"
    _states_its_lens(original)
    script = ADDS_NOTHING.format(
        look="evenlight", original=str(original), asked={"format": "jpeg"}, kinds={"raw"},
        turned=False, lens=True,
    )  # fmt: skip
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert run.stdout == "True set()\n", run.stderr


def test_a_lens_is_looked_for_in_the_first_and_the_last_of_each_run_of_names(tmp_path):
    plain = (DEMO / "harbour_07.dng").read_bytes()
    for name in ("A1", "A2", "A3", "B1", "B2"):
        (tmp_path / f"{name}.dng").write_bytes(plain)
    (tmp_path / "B3.dng").write_bytes(b"")
    (tmp_path / "B3.jpg").write_bytes(plain)
    assert not may_state_lenses(sorted(tmp_path.iterdir()))
    _states_its_lens(tmp_path / "B0.dng")
    assert may_state_lens(tmp_path / "B0.dng") and may_state_lenses(sorted(tmp_path.iterdir()))
    assert not may_state_lens(tmp_path / "missing.dng")


def test_a_lens_that_files_state_is_compiled_for_unless_a_recipe_says_no():
    stated = ready.needed([recipe()], {"raw"}, {8}, lens=True)
    assert set(ready.LENS) < stated and "8-bit resized" in stated
    left = ready.needed([recipe(lens={"from": "nothing"})], {"raw"}, {8}, lens=True)
    assert "turned" not in left
    assert not set(ready.LENS) & ready.needed([recipe()], {"raw"}, {8})


def test_what_was_compiled_in_other_processes_is_kept(tmp_path):
    script = """
from grading.engine.ready import compile_each
from grading.engine import rehearse
from grading.kernels import light
names = rehearse.unrehearsed({"affine"})
print(names, len(list(compile_each(names))), rehearse.unrehearsed({"affine"}))
rehearse.REHEARSALS["affine"]()
print(sum(light._affine.stats.cache_hits.values()), sum(light._affine.stats.cache_misses.values()))
"""
    run = subprocess.run(
        [sys.executable, "-c", script],
        env=os.environ | {"NUMBA_CACHE_DIR": str(tmp_path)},
        capture_output=True,
        text=True,
    )
    assert run.stdout == "['affine'] 1 []\n1 0\n", run.stderr


def test_nothing_is_compiled_ahead_where_no_place_keeps_it(monkeypatch):
    nowhere = SimpleNamespace(stats=SimpleNamespace(cache_path=None))
    monkeypatch.setattr(kernels.light, "blend", nowhere)
    assert rehearse.unrehearsed(set(rehearse.REHEARSALS)) == []


@pytest.mark.parametrize("name", ["no such program", "false"])
def test_where_no_process_can_be_started_the_work_goes_on(monkeypatch, name):
    monkeypatch.setattr(sys, "executable", name)
    assert list(ready.compile_each(["affine"])) == []


def test_an_application_without_an_interpreter_starts_none(monkeypatch, started):
    monkeypatch.setattr(sys, "frozen", True, raising=False)
    assert list(ready.compile_each(["affine"])) == [] and started == []


def test_a_stop_ends_all_processes(started):
    compiling = ready.compile_each(["affine"] * 9)
    next(compiling)
    with pytest.raises(KeyboardInterrupt):
        compiling.throw(KeyboardInterrupt)
    assert len(started) == min(9, os.cpu_count())
    assert all(process.returncode is not None for process in started)


@pytest.mark.parametrize(
    "verb, options",
    [("render", ["--out", "out"]), ("sheet", ["--look", "evenlight", "--out", "sheet.html"])],
)
def test_compiling_is_said_at_once_and_only_where_it_happens(tmp_path, monkeypatch, verb, options):
    monkeypatch.chdir(tmp_path)
    asked = []
    monkeypatch.setattr(ready, "compile_each", lambda names: asked.append(names) or names)
    arguments = [verb, *(["evenlight"] if verb == "render" else []), str(DEMO / "harbour_07.dng")]
    monkeypatch.setattr(rehearse, "unrehearsed", sorted)
    run = CliRunner().invoke(main, [*arguments, *options])
    assert run.stderr.startswith(LABEL) and asked and LABEL not in run.stdout
    monkeypatch.setattr(rehearse, "unrehearsed", lambda names: [])
    run = CliRunner().invoke(main, [*arguments, *options, "--overwrite"])
    assert run.exit_code == 0 and LABEL not in run.output and len(asked) == 1


@pytest.mark.slow
def test_a_first_run_that_is_stopped_leaves_nothing_behind(tmp_path, interruptible):
    command = [sys.executable, "-m", "grading", "render", "evenlight", DEMO, "--out", "out"]
    environment = os.environ | {"NUMBA_CACHE_DIR": str(tmp_path / "kept")}
    with subprocess.Popen(
        command, cwd=tmp_path, env=environment, stderr=subprocess.PIPE, text=True
    ) as run:
        assert run.stderr.readline().startswith(LABEL)
        time.sleep(8)
        stopped = time.monotonic()
        run.send_signal(signal.SIGINT)
        rest = run.stderr.read()
    assert time.monotonic() - stopped < 5 and run.returncode == 130
    assert rest.lstrip() == "Stopped. No file is half written, and no original was touched.\n"
    assert not list(tmp_path.rglob("out/*.jpg"))


@pytest.mark.slow
def test_a_first_run_renders_after_it_compiled(tmp_path):
    look = tmp_path / "look.yaml"
    look.write_text("grading: 1\nexposure: {stops: 0.3}\n", encoding="utf-8")
    command = [sys.executable, "-m", "grading", "render", look, DEMO / "harbour_07.dng"]
    environment = os.environ | {"NUMBA_CACHE_DIR": str(tmp_path / "kept")}
    run = subprocess.run(
        [*command, "--out", "out"], cwd=tmp_path, env=environment, capture_output=True, text=True
    )
    first, second, *_ = run.stderr.splitlines()
    assert first.startswith(LABEL) and second.startswith("Compiled in ")
    assert run.stdout == "" and (tmp_path / "out/harbour_07.jpg").exists()
