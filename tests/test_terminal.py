"""What is printed shows as what it is, never fails, and tells how long it takes."""

import ast
import io
import random
import sys
from pathlib import Path

import pytest

import grading
from grading.terminal import progress, say, say_document, steady_end, time_left, visible

STEERING = {
    "\x1b[2J": r"\x1b[2J",
    "\x9b31m": r"\x9b31m",  # C1: CSI (ISO/IEC 6429)
    "a\nb\r\tc": r"a\nb\r\tc",
    "\x00\x08\x7f": r"\x00\x08\x7f",
    "\u202egpj.exe\u202c": r"\u202egpj.exe\u202c",
    "\u2066x\u2069\u061c\u200f": r"\u2066x\u2069\u061c\u200f",
    "\u2028\u2029\x85": r"\u2028\u2029\x85",
    "byte \udcff": r"byte \xff",
    "half \ud800": r"half \ud800",
}


@pytest.mark.parametrize(("text", "shown"), STEERING.items())
def test_what_steers_is_written_out(text, shown):
    assert visible(text) == shown
    assert visible(shown) == shown


def test_all_controls_and_turns_of_direction_are_written_out():
    """General category Cc, Cs, Zl, Zp and property Bidi_Control of the Unicode character database;
    the latter from memory."""
    import unicodedata

    bidi = {0x61C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)}
    for code in range(0x11000):
        letter = chr(code)
        steers = unicodedata.category(letter) in ("Cc", "Cs", "Zl", "Zp") or code in bidi
        assert (visible(letter) != letter) == steers, hex(code)


def test_letters_of_all_scripts_stay():
    for text in ("Häfen", "日本", "שלום", "क्‍ष", "👩‍🚀", r"C:\shoot\x1", "50 % #1"):
        assert visible(text) == text


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252", "utf-8"])
def test_a_line_can_be_printed_on_any_terminal(monkeypatch, encoding):
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stderr", io.TextIOWrapper(raw, encoding, newline="\n"))
    say("é…日\udcff\x1b\nend", 7, error=True)
    lines = raw.getvalue().decode(encoding).split("\n")
    assert len(lines) == 3 and lines[1] == "7"
    assert lines[0].endswith(r"\xff\x1b\nend")
    assert lines[0].startswith(r"\xe9\u2026\u65e5" if encoding == "ascii" else "é")


def test_a_document_is_its_bytes(monkeypatch):
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, "ascii"))
    say_document("é\n")
    assert raw.getvalue() == "é\n".encode()


def test_nothing_is_printed_in_another_way():
    for path in sorted(Path(grading.__file__).parent.rglob("*.py")):
        if path.name == "terminal.py":
            continue
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call):
                called = ast.unparse(node.func)
                assert called not in ("print", "click.echo", "click.secho"), path
                assert not called.startswith(("sys.stdout.write", "sys.stderr.write")), path


class Terminal(io.StringIO):
    def isatty(self):
        return True


def test_the_bar_is_drawn_on_a_terminal_only(monkeypatch):
    for stream, drawn in ((io.StringIO(), False), (Terminal(), True)):
        monkeypatch.setattr(sys, "stderr", stream)
        assert list(progress(iter("ab"), 2, "Grading")) == ["a", "b"]
        assert bool(stream.getvalue()) == drawn
    assert "Grading" in stream.getvalue() and "2/2" in stream.getvalue()


def test_the_bar_is_gone_while_the_caller_prints(monkeypatch):
    stream = Terminal()
    monkeypatch.setattr(sys, "stderr", stream)
    for _ in progress(range(3), 3, "Grading"):
        last = stream.getvalue().rstrip("\r").split("\r")[-1]
        assert last.strip() == "" and len(last) > len("Grading")
        print("a line", file=sys.stderr)
        assert stream.getvalue().endswith("\ra line\n")


def test_an_interruption_gets_through_the_bar(monkeypatch):
    def items():
        yield 1
        raise KeyboardInterrupt

    taken = []
    with pytest.raises(KeyboardInterrupt):
        for item in progress(items(), 3, "Grading"):
            taken.append(item)
    assert taken == [1]


def simulated(seconds, workers=1):
    """Moments at which frames are done, in order, by workers that each take the next one."""
    free, moments, latest = [0.0] * workers, [], 0.0
    for needed in seconds:
        at = free.index(min(free))
        free[at] += needed
        latest = max(latest, free[at])
        moments.append(latest)
    return moments


def estimates(moments, recent=64):
    """Estimated and true seconds left after each frame; frames without an estimate are left out."""
    for i in range(len(moments) - 1):
        left = time_left(moments[: i + 1][-recent:], len(moments) - i - 1)
        if left is not None:
            yield i + 1, left, moments[-1] - moments[i]


@pytest.mark.parametrize("seed", range(5))
def test_a_slow_first_frame_has_no_part_in_the_estimate(seed):
    """One frame in forty seconds, the others in about one: the rate from the beginning on would
    be wrong by a factor of 8 after four frames."""
    rng = random.Random(seed)
    moments = simulated([40, *(rng.uniform(0.8, 1.6) for _ in range(60))])
    estimated = list(estimates(moments))
    assert estimated[0][0] == 4
    for _, left, truth in estimated:
        assert left == pytest.approx(truth, rel=0.35, abs=1.5)
    for (_, before, _), (_, after, _) in zip(estimated[5:], estimated[6:], strict=False):
        assert after == pytest.approx(before, rel=0.2, abs=1.5)  # steady
    naive = moments[3] / 4 * 57
    assert naive > 7 * (moments[-1] - moments[3])


@pytest.mark.parametrize("workers", [2, 4, 8])
def test_frames_that_come_several_at_a_time(workers):
    rng = random.Random(workers)
    moments = simulated([rng.uniform(4, 5) for _ in range(25 * workers)], workers)
    estimated = list(estimates(moments))
    for _, left, truth in estimated:
        assert truth / 2.5 - 5 < left < 2 * truth + 5
    for done, left, truth in estimated:
        if done > 4 * workers:
            assert left == pytest.approx(truth, rel=0.3, abs=5)


def test_no_estimate_before_it_is_worth_something():
    assert time_left([], 9) is None
    assert time_left([40.0, 41.0, 42.0], 9) is None
    assert time_left([40.0, 40.1, 40.2, 40.3], 900) is None
    assert time_left([40.0, 41.0, 42.0, 43.0], 9) == pytest.approx(9)
    assert time_left([40.0, 41.0, 42.0, 43.0], 0) == 0


def ends(moments, recent=64):
    """Estimated ends after each frame: as they come, and steadied."""
    raw, steady, end = [], [], None
    for i in range(len(moments) - 1):
        seen, left = moments[: i + 1][-recent:], len(moments) - i - 1
        end = steady_end(end, seen, left)
        if end is not None:
            raw.append(seen[-1] + time_left(seen, left))
            steady.append(end)
    return raw, steady


@pytest.mark.parametrize("seed", range(5))
def test_the_end_does_not_jump(seed):
    """Frames of one and of five seconds, as of two cameras on one card."""
    rng = random.Random(seed)
    moments = simulated([rng.choice([1, 1, 5]) for _ in range(80)])
    raw, steady = ends(moments)
    jumps = [
        max(abs(after - before) for before, after in zip(each, each[1:], strict=False))
        for each in (raw, steady)
    ]
    assert jumps[1] < jumps[0] / 2
    for end in steady[20:]:
        assert end == pytest.approx(moments[-1], rel=0.35)


def test_the_end_follows_a_change_that_stays():
    """The second half of the frames takes four times as long."""
    moments = simulated([1] * 100 + [4] * 100)
    _, steady = ends(moments)
    assert steady[60] < 0.6 * moments[-1]
    assert steady[150] == pytest.approx(moments[-1], rel=0.1)


def test_the_estimate_is_said_in_words(monkeypatch):
    stream, clock = Terminal(), iter(range(1000))
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr("grading.terminal.time.monotonic", lambda: 10 * next(clock))
    list(progress(range(1000), 1000, "Grading"))
    text = stream.getvalue()
    assert " 3/1000  about" not in text
    assert "4/1000  about 3 h left" in text
    assert "990/1000  about 100 s left" in text and "950/1000  about 8 min left" in text
    assert text.rstrip("\n\x1b[?25h").rstrip().endswith("1000/1000")
