"""What the page is told of frames, as plain data and in words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from grading.evening.marks import Entry
from grading.inspect.measure import Measures
from grading.inspect.series import find_series
from grading.inspect.verdict import notes, verdicts
from grading.pages import words
from grading.pages.choose.session import Choosing
from grading.terminal import visible


def of_all(choosing: Choosing) -> dict[str, Any]:
    """Every frame with what is said of it, and what is known of it so far.

    Parameters
    ----------
    choosing : Choosing

    Returns
    -------
    dict
        ``frames`` in order of capture; ``series`` with the numbers of their frames and of the
        sharpest; ``measured``, how many were opened; ``version`` of the marks file.
    """
    found = dict(choosing.opening.found)
    known = sorted(i for i in found if found[i].measures)
    measures = [found[i].measures for i in known]
    against = dict(zip(known, verdicts(measures), strict=True))
    rejected = [bool(against[i]) for i in known]
    return {
        "frames": [
            _frame(choosing, i, found.get(i), against.get(i, []))
            for i in range(len(choosing.frames))
        ],
        "series": [
            {
                "kind": each.kind,
                "frames": [known[n] for n in each.frames],
                "best": None if each.best is None else known[each.best],
            }
            for each in find_series(measures, rejected)
        ],
        "measured": len(found),
        "version": choosing.marks.version,
    }


def _frame(choosing, i, looked, against):
    captured = choosing.frames[i]
    return {
        "name": visible(captured.name),
        "time": captured.time.isoformat() if captured.time else None,
        "capture": words.capture(captured.capture),
        "entry": of_entry(choosing.entry(captured.name)),
        "known": looked is not None,
        "problem": visible(looked.problem) if looked else "",
        "place": looked.place if looked else None,
        "against": [f"{each.word}: {each.why}" for each in against],
        "facts": _facts(looked.measures) if looked and looked.measures else [],
        "straighten": _straighten(looked.measures) if looked and looked.measures else None,
    }


def of_entry(entry: Entry | None) -> dict[str, Any] | None:
    """What is said of a frame; None is nothing."""
    return None if entry is None else entry.model_dump(exclude_defaults=True)


def _facts(measures: Measures) -> Sequence[tuple[str, str]]:
    """Measures in words: what, and how much."""
    exposure = measures.exposure
    clipped, headroom = max(exposure.clipped), min(exposure.headroom)
    facts = [("Light clipped", words.percent(clipped)), ("Room to white", f"{headroom:.1f} stops")]
    if measures.softness is not None:
        facts.insert(0, ("Blur, sharpest place", f"{measures.softness:.1f} px"))
    if exposure.grey_ratio is not None:
        facts.append(("Signal to noise, grey", f"{exposure.grey_ratio:.0f}"))
    if exposure.ev100 is not None:
        facts.append(("EV100", f"{exposure.ev100:.1f}"))
    if measures.lean is not None:
        facts.append(("Leans by", f"{-measures.lean.straighten:+.1f}°"))
    return [*facts, *(("Note", note) for note in notes(measures))]


def _straighten(measures):
    return round(measures.lean.straighten, 1) if measures.lean else None
