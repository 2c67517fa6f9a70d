"""The error tree: every message says the place, the value, what is allowed and what to do."""

from __future__ import annotations

from collections.abc import Sequence
from os import PathLike

from grading.terminal import visible

MAX_ERRORS = 20
"""Errors that a message lists before it only counts the rest."""


class GradingError(Exception):
    """Root of all errors that a person can put right.

    Parameters
    ----------
    problem : str
        What is wrong, with the offending value.
    place : str, optional
        Where: a file, or ``file:line:column`` for YAML.
    allowed : str, optional
        What would have been accepted.
    remedy : str, optional
        What to do about it.

    Each may hold any text of a person or a file: an error is shown on one line, in which every
    character is `grading.terminal.visible`. `together` shows several errors on several lines.
    """

    def __init__(
        self,
        problem: str,
        *,
        place: str | None = None,
        allowed: str | None = None,
        remedy: str | None = None,
    ) -> None:
        self.problem, self.place = problem, place
        self.allowed, self.remedy = allowed, remedy
        self.several = ()
        super().__init__(str(self))

    @classmethod
    def together(cls, errors: Sequence[GradingError], more: int = 0) -> GradingError:
        """One error for several: a line each, and how many more there are. One alone stays itself.

        Parameters
        ----------
        errors : sequence of GradingError
            Those beyond `MAX_ERRORS` are only counted.
        more : int
            Errors that are only counted, too.
        """
        if len(errors) + more == 1:
            return errors[0]
        error = cls(f"{len(errors) + more} problems")
        error.several = tuple(map(str, errors[:MAX_ERRORS]))
        more += len(errors) - len(error.several)
        if more:
            error.several += (f"and {more} more",)
        return error

    def __str__(self):
        if self.several:
            return "\n".join(self.several)
        place = self.place and f"{self.place}: "
        allowed = self.allowed and f"; allowed: {self.allowed}"
        remedy = self.remedy and f"; {self.remedy}"
        return visible("".join(filter(None, [place, self.problem, allowed, remedy])))


def of_frame(error: Exception, path: str | PathLike[str]) -> GradingError:
    """Any error of a frame as one of ours, so that the next frame can go on.

    Parameters
    ----------
    error : Exception
    path : path-like
        The original.
    """
    if isinstance(error, GradingError):
        return error
    return OriginalError(f"failed unexpectedly ({type(error).__name__}: {error})", place=path)


class RecipeError(GradingError):
    """A recipe that cannot be read or does not say something possible."""


class OriginalError(GradingError):
    """An original that cannot be opened, or opens to something that is not a picture."""


class OutputError(GradingError):
    """An output that cannot be written, or must not be overwritten."""


class DiskFull(OutputError):
    """No room is left for outputs: what a run has still to write would fail as well."""


class SidecarError(GradingError):
    """A sidecar that cannot be read, or a file that no longer agrees with it."""
