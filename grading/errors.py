"""The error tree: every message says the place, the value, what is allowed and what to do."""


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
    """

    def __init__(self, problem, *, place=None, allowed=None, remedy=None):
        self.problem, self.place = problem, place
        self.allowed, self.remedy = allowed, remedy
        super().__init__(str(self))

    def __str__(self):
        parts = [self.problem]
        if self.allowed:
            parts.append(f"allowed: {self.allowed}")
        if self.remedy:
            parts.append(self.remedy)
        text = "; ".join(parts)
        return f"{self.place}: {text}" if self.place else text


class RecipeError(GradingError):
    """A recipe that cannot be read or does not say something possible."""


class OriginalError(GradingError):
    """An original that cannot be opened, or opens to something that is not a picture."""


class OutputError(GradingError):
    """An output that cannot be written, or must not be overwritten."""


class SidecarError(GradingError):
    """A sidecar that cannot be read, or a file that no longer agrees with it."""


MOST_LINES = 20
"""Errors that a message lists before it only counts the rest."""


def together(kind, errors):
    """One error that lists several, a line each, and counts those beyond `MOST_LINES`.

    Parameters
    ----------
    kind : type of GradingError
    errors : sequence of GradingError
        One or more.

    Returns
    -------
    GradingError
        The error itself where it is the only one.
    """
    if len(errors) == 1:
        return errors[0]
    lines = [str(error) for error in errors[:MOST_LINES]]
    if len(errors) > MOST_LINES:
        lines.append(f"and {len(errors) - MOST_LINES} more")
    return kind("\n".join(lines))
