"""The record beside each output: what it was made from, how, and by what.

A sidecar is a YAML text named ``<output file name>.yaml``. Floats are written so that reading
gives back the same bits. It ends with YAML's end mark, so that a cut-off one is told from a
whole one.
"""

import hashlib
import os
import platform
from dataclasses import asdict, dataclass, fields
from importlib import metadata
from pathlib import Path
from types import NoneType
from typing import get_args

from grading.errors import OriginalError, SidecarError
from grading.files.atomic import write_atomically
from grading.files.raw import libraw_version
from grading.yaml_text import dump_yaml, load_yaml, read_text

VERSION = 1
_END = "...\n"
_LIBRARIES = (
    "imagecodecs", "imageio", "numba", "numpy", "pillow", "pydantic", "pyyaml", "rawpy", "tifffile",
)  # fmt: skip


@dataclass(frozen=True)
class Original:
    """The original: its name, path relative to the sidecar, bytes and SHA-256."""

    name: str
    path: str
    size: int
    sha256: str


@dataclass(frozen=True)
class Output:
    """The output: its name, bytes and SHA-256, what was asked of it, and its pixels."""

    name: str
    size: int
    sha256: str
    format: str
    space: str
    quality: int | None
    long_edge: int | None
    width: int
    height: int


@dataclass(frozen=True)
class Recipe:
    """The recipe: its name, the SHA-256 of its text, and every number as it was applied."""

    name: str
    sha256: str
    resolved: dict


@dataclass(frozen=True)
class Engine:
    """What made the output: versions of this package, of Python and of the libraries."""

    grading: str
    python: str
    platform: str
    libraries: dict


@dataclass(frozen=True)
class Sidecar:
    """All of a sidecar; ``capture`` holds the facts of capture, ``measured`` what was measured."""

    original: Original
    output: Output
    recipe: Recipe
    engine: Engine
    capture: dict
    measured: dict


def sidecar_path(output):
    """Where the sidecar of an output lies, as a Path."""
    output = Path(output)
    return output.with_name(output.name + ".yaml")


def sha256_of(path):
    """SHA-256 of a file's content as 64 hexadecimal digits; read in pieces."""
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def describe_original(path, folder):
    """Describe an original for a sidecar in ``folder``.

    Raises
    ------
    OriginalError
        If it cannot be read.
    """
    path = Path(path)
    try:
        size, digest = path.stat().st_size, sha256_of(path)
    except OSError as error:
        raise OriginalError(f"cannot be read ({error.strerror})", place=path) from None
    return Original(path.name, _relative(path, folder), size, digest)


def original_of(facts, folder):
    """Describe the original of a frame, as it was decoded, for a sidecar in ``folder``."""
    return Original(facts.path.name, _relative(facts.path, folder), facts.size, facts.sha256)


def engine_facts():
    """Versions of what is at work here, as an Engine."""
    libraries = {name: _installed_version(name) for name in _LIBRARIES}
    libraries["libraw"] = libraw_version()
    return Engine(
        _installed_version("grading"),
        platform.python_version(),
        f"{platform.system()} {platform.machine()}",
        libraries,
    )


def write_sidecar(path, sidecar, overwrite=False):
    """Write a sidecar.

    Parameters
    ----------
    path : path-like
        See :func:`sidecar_path`.
    sidecar : Sidecar
        Its mappings hold text, plain numbers, truth values, ``None``, lists and mappings.
    overwrite : bool
        Whether an existing file may be replaced.

    Raises
    ------
    OutputError
        If it cannot be written.
    """
    text = dump_yaml({"sidecar": VERSION, **asdict(sidecar)}) + _END
    write_atomically(path, text.encode("utf-8"), overwrite)


def read_sidecar(path):
    """Read a sidecar.

    Returns
    -------
    Sidecar

    Raises
    ------
    SidecarError
        If it is missing, is no sound YAML, or lacks or misstates something; the place is
        ``file:line:column``.
    """
    text = read_text(path, SidecarError)
    values, positions = load_yaml(text, path, SidecarError)
    if not text.endswith("\n" + _END):
        raise SidecarError(
            "cut off: the end mark '...' is missing",
            place=f"{path}:{len(text.splitlines()) + 1}:1",
            remedy="restore the sidecar",
        )
    version = values.pop("sidecar", None) if isinstance(values, dict) else None
    if version != VERSION:
        raise SidecarError(
            f"sidecar version {version!r}",
            place=_place(positions, ("sidecar",), path),
            allowed=f"sidecar: {VERSION}",
            remedy="read it with the version of the engine that wrote it",
        )
    return _build(Sidecar, values, (), lambda at: _place(positions, at, path))


def find_original(path, sidecar, folder=None):
    """Where the original of a sidecar lies.

    Parameters
    ----------
    path : Path
        The sidecar's own.
    sidecar : Sidecar
    folder : Path, optional
        Where the originals lie now; where the sidecar says unless given.
    """
    if folder is None:
        return (path.parent / sidecar.original.path).resolve()
    return folder / sidecar.original.name


def verify(path, originals=None):
    """Check that the output and the original still are those that a sidecar describes.

    Parameters
    ----------
    path : path-like
        The sidecar.
    originals : Path, optional
        Folder where the originals lie now; where the sidecar says unless given.

    Returns
    -------
    Sidecar

    Raises
    ------
    SidecarError
        If it cannot be read, or a file is missing or has other content.
    """
    path = Path(path)
    sidecar = read_sidecar(path)
    _verify_file(path.parent / sidecar.output.name, sidecar.output, path, "make it again by redo")
    original = find_original(path, sidecar, originals)
    _verify_file(original, sidecar.original, path, "if it was moved, state --originals FOLDER")
    return sidecar


def _installed_version(name):
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return "not installed"


def _verify_file(file, stated, path, if_missing):
    try:
        digest = sha256_of(file)
    except OSError as error:
        raise SidecarError(
            f"{file} cannot be read ({error.strerror})",
            place=path,
            remedy=if_missing,
        ) from None
    if digest != stated.sha256:
        raise SidecarError(
            f"{file} has SHA-256 {digest}",
            place=path,
            allowed=stated.sha256,
            remedy="the file was changed after the sidecar was written: restore or render it again",
        )


def _relative(path, folder):
    """Path from a folder, with forward slashes; absolute where there is no way (other drive)."""
    try:
        return Path(os.path.relpath(path.resolve(), Path(folder).resolve())).as_posix()
    except ValueError:
        return path.resolve().as_posix()


def _place(positions, at, path):
    return str(positions[at].value) if at in positions else str(path)


def _build(kind, values, at, place):
    """An instance of the dataclass ``kind`` from a mapping, checked name by name."""
    wanted = {field.name: field.type for field in fields(kind)}
    for name in values.keys() ^ wanted.keys():
        problem = "is missing" if name in wanted else "is unknown"
        raise SidecarError(
            f"{name!r} {problem}",
            place=place((*at, name) if name in values else at),
            allowed=", ".join(wanted),
            remedy="restore the sidecar",
        )
    return kind(**{name: _value(wanted[name], values[name], (*at, name), place) for name in wanted})


def _value(kind, value, at, place):
    record = kind in (Original, Output, Recipe, Engine)
    accepted = (dict,) if record else get_args(kind) or (kind,)
    if type(value) not in accepted:
        names = {dict: "a mapping", str: "text", int: "a whole number", NoneType: "null"}
        raise SidecarError(
            f"the value {value!r}",
            place=place(at),
            allowed=" or ".join(names[each] for each in accepted),
            remedy="restore the sidecar",
        )
    return _build(kind, value, at, place) if record else value
