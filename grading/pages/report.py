"""The report of a run, as a page or as data."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from grading.errors import OutputError
from grading.files.atomic import make_folder, write_atomically
from grading.pages.html import page
from grading.shoot.report import in_groups, states
from grading.shoot.room import in_bytes


def report_page(document: Mapping[str, Any]) -> bytes:
    """HTML of a report.

    Parameters
    ----------
    document : mapping
        From `grading.shoot.report.as_document`.
    """
    remarks = [
        (Path(frame["original"]), sentence)
        for frame in document["frames"]
        for sentence in (*(frame["level"] or {}).get("remarks", ()), *frame["notes"])
    ]
    groups = {
        sentence: [path.name for path in paths] for sentence, paths in in_groups(remarks).items()
    }
    return page(
        "report.html",
        document=document,
        states=states(document),
        groups=groups,
        size=in_bytes(document["outputs"]["bytes"]),
        frames=[
            (frame, Path(frame["original"]).name, _losses(frame)) for frame in document["frames"]
        ],
    )


def _losses(frame):
    """Of each output its name, pixels, bytes, and the largest shares at white and black."""
    return [
        {
            "name": Path(output["path"]).name,
            "size": in_bytes(output["bytes"]),
            "pixels": f"{output['width']} x {output['height']}",
            "white": max(output["clipping"]["white"].values()),
            "black": max(output["clipping"]["black"].values()),
            "outside": output["clipping"]["outside"],
        }
        for output in frame["outputs"]
    ]


def report_data(document: Mapping[str, Any]) -> bytes:
    """JSON of a report, in ASCII."""
    return (json.dumps(document, indent=1) + "\n").encode()


REPORTS = {".html": report_page, ".json": report_data}
"""What makes a report, by the ending of its name."""


def check_report(path: Path, overwrite: bool = False) -> None:
    """Refuse a report that could not be written, before work starts.

    Parameters
    ----------
    path : Path
    overwrite : bool
        Whether a report of an earlier run may be replaced.

    Raises
    ------
    OutputError
    """
    if path.suffix.lower() not in REPORTS:
        raise OutputError(
            f"a report ending in {path.suffix or 'nothing'}",
            place=str(path),
            allowed=", ".join(REPORTS),
        )
    if path.exists() and not overwrite:
        raise OutputError(
            "the report exists already",
            place=str(path),
            remedy="choose another name, move it away, or state --overwrite",
        )
    make_folder(path.parent)


def write_report(path: Path, document: Mapping[str, Any], overwrite: bool = False) -> None:
    """Write a report, whole or not at all.

    Parameters
    ----------
    path : Path
        Ends in one of `REPORTS`.
    document : mapping
        From `grading.shoot.report.as_document`.
    overwrite : bool

    Raises
    ------
    OutputError
        As `grading.files.atomic.write_atomically` does.
    """
    write_atomically(path, REPORTS[path.suffix.lower()](document), overwrite)
