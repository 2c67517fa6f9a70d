"""Records of a sidecar from what was read, checked name by name and value by value."""

from collections.abc import Callable
from dataclasses import fields, is_dataclass
from types import NoneType
from typing import TypeVar, get_args

from grading.errors import SidecarError

Record = TypeVar("Record")

_NAMES = {
    dict: "a mapping", list: "a list", str: "text", int: "a whole number", float: "a number",
    NoneType: "null",
}  # fmt: skip


def from_mapping(
    kind: type[Record], values: dict, place: Callable[[tuple], str], at: tuple = ()
) -> Record:
    """An instance of a dataclass, and of those that it holds.

    Parameters
    ----------
    kind : type
        A dataclass whose fields are plain types, unions of these, or dataclasses again.
    values : dict
        As read, by names of fields.
    place : callable
        What an error names for the keys that lead to a value.
    at : tuple of str
        Keys that lead to these values.

    Raises
    ------
    SidecarError
        If a name is missing or unknown, or a value is of another type.
    """
    wanted = {each.name: each.type for each in fields(kind)}
    for name in values.keys() ^ wanted.keys():
        problem = "is missing" if name in wanted else "is unknown"
        raise SidecarError(
            f"{name!r} {problem}",
            place=place((*at, name) if name in values else at),
            allowed=", ".join(wanted),
            remedy="restore the sidecar",
        )
    return kind(**{name: _value(wanted[name], values[name], place, (*at, name)) for name in wanted})


def _value(kind, value, place, at):
    record = is_dataclass(kind)
    accepted = (dict,) if record else get_args(kind) or (kind,)
    if type(value) not in accepted:
        raise SidecarError(
            f"the value {value!r}",
            place=place(at),
            allowed=" or ".join(_NAMES[each] for each in accepted),
            remedy="restore the sidecar",
        )
    return from_mapping(kind, value, place, at) if record else value
