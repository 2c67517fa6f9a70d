"""The record beside each output: what it was made from, how, and by what.

A sidecar is a YAML text named ``<output file name>.yaml``. Floats are written so that reading
gives back the same bits. It ends with a digest of all that it says, so that a change of any value
is noticed, and with YAML's end mark. The names in it are plain file names, never paths.
"""

import hashlib
import json
import os
import platform
from dataclasses import asdict, dataclass, field
from functools import cache
from importlib import metadata
from pathlib import Path

from grading.develop.libraw import libraw_version
from grading.errors import OriginalError, SidecarError
from grading.files.from_mapping import from_mapping
from grading.regular_file import open_regular
from grading.yaml_text import SIDECAR, dump_yaml, load_yaml, read_text

VERSION = 4
_END = "...\n"
_LIBRARIES = ("imagecodecs", "imageio", "numba", "numpy", "pillow", "rawpy", "tifffile")
"""What makes pixels or bytes of outputs."""


@dataclass(frozen=True)
class OriginalRecord:
    """The original: its name, path relative to the sidecar, bytes and SHA-256."""

    name: str
    path: str
    size: int
    sha256: str


@dataclass(frozen=True)
class OutputRecord:
    """The output: its name, bytes and SHA-256, what was asked of it, and its pixels.

    ``replaces`` is the SHA-256 of an earlier output of this name whose place it takes. The sidecar
    is written first, so after a kill between the two it tells that output from a person's file.
    """

    name: str
    size: int
    sha256: str
    format: str
    space: str
    quality: int | None
    long_edge: int | None
    width: int
    height: int
    replaces: str | None = None
    short_edge: int | None = None
    box: list | None = None
    sharpen: float = 0.0


@dataclass(frozen=True)
class RecipeRecord:
    """The recipe: its name, digest (see `grading.recipe.load`), every number as applied, and in
    which file and line each stated value stands.
    """

    name: str
    sha256: str
    resolved: dict
    sources: dict


@dataclass(frozen=True)
class EngineRecord:
    """What made the output: versions of this package, of Python and of the libraries."""

    grading: str
    python: str
    platform: str
    libraries: dict


@dataclass(frozen=True)
class Sidecar:
    """All of a sidecar; ``capture`` holds the facts of capture, ``measured`` what was measured.

    ``label`` holds what the output says beside its pixels, see `grading.files.metadata.label`.
    """

    original: OriginalRecord
    output: OutputRecord
    recipe: RecipeRecord
    engine: EngineRecord
    capture: dict
    measured: dict
    label: dict = field(default_factory=dict)


def sidecar_path(output):
    """Where the sidecar of an output lies, as a Path."""
    return Path(f"{output}.yaml")


def sha256_of(path):
    """SHA-256 of a regular file's content as 64 hexadecimal digits; read in pieces."""
    with open_regular(path) as file:
        return _sha256(file)


def _sha256(file):
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
    return OriginalRecord(path.name, relative_path(path, folder), size, digest)


def original_of(facts, folder):
    """Describe the original of a frame, as it was decoded, for a sidecar in ``folder``."""
    path = relative_path(facts.path, folder)
    return OriginalRecord(facts.path.name, path, facts.size, facts.sha256)


@cache
def engine_facts():
    """Versions of what is at work here, as an EngineRecord; looked up once."""
    return EngineRecord(
        _installed_version("grading"),
        platform.python_version(),
        f"{platform.system()} {platform.machine()}",
        {name: _installed_version(name) for name in _LIBRARIES} | {"libraw": libraw_version()},
    )


def as_bytes(sidecar):
    """Content of a sidecar's file.

    Parameters
    ----------
    sidecar : Sidecar
        Its mappings hold text, plain numbers, truth values, ``None``, lists and mappings.

    Returns
    -------
    bytes
    """
    values = {"sidecar": VERSION, **asdict(sidecar)}
    return (dump_yaml(values | {"digest": _digest(values)}) + _END).encode("utf-8")


def read_sidecar(path):
    """Read a sidecar.

    Returns
    -------
    Sidecar

    Raises
    ------
    SidecarError
        If it is missing, is no sound YAML, lacks or misstates something, was changed after it was
        written, or is that of another output. The place is ``file:line:column`` where there is
        one.
    """
    path = Path(path)
    text = read_text(path, SidecarError, SIDECAR)
    values, positions = load_yaml(text, path, SidecarError, SIDECAR)
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
    digest = values.pop("digest", None)
    sidecar = from_mapping(Sidecar, values, lambda at: _place(positions, at, path))
    if digest != _digest({"sidecar": VERSION, **values}):
        raise SidecarError(
            "a value in it was changed after it was written",
            place=path,
            remedy="restore the sidecar, or render the output again",
        )
    _check_names(sidecar, positions, path)
    return sidecar


def _digest(values):
    """SHA-256 of plain values, whatever the layout of their text."""
    return hashlib.sha256(json.dumps(values, sort_keys=True).encode()).hexdigest()


def _check_names(sidecar, positions, path):
    """Refuse names that are paths, and a sidecar that is not called after its output."""
    for kind in ("output", "original"):
        name = getattr(sidecar, kind).name
        if Path(name).name != name or name in ("", "..") or "\0" in name:
            raise SidecarError(
                f"{kind}.name = {name!r}",
                place=_place(positions, (kind, "name"), path),
                allowed="the plain name of a file, without a folder",
                remedy="this sidecar was tampered with: do not use it",
            )
    if "\0" in sidecar.original.path:
        raise SidecarError(
            f"original.path = {sidecar.original.path!r}",
            place=_place(positions, ("original", "path"), path),
            allowed="a path without a zero character",
            remedy="this sidecar was tampered with: do not use it",
        )
    if path.name != sidecar_path(sidecar.output.name).name:
        raise SidecarError(
            f"this is the sidecar of {sidecar.output.name}",
            place=path,
            remedy=f"call it {sidecar.output.name}.yaml again, or take it away",
        )


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
        return Path(os.path.realpath(path.parent / sidecar.original.path))
    return folder / sidecar.original.name


def _installed_version(name):
    try:
        return metadata.version(name)
    except metadata.PackageNotFoundError:
        return "not installed"


def check_file(file, stated, path, if_missing):
    """Check that a file still is what a sidecar says.

    Parameters
    ----------
    file : Path
    stated : OriginalRecord or OutputRecord
    path : Path
        The sidecar's own.
    if_missing : str
        What to do where there is none.

    Raises
    ------
    SidecarError
        If it is missing, or has another size or content.
    """
    try:
        with open_regular(file) as opened:
            size = os.fstat(opened.fileno()).st_size
            same = size == stated.size and _sha256(opened) == stated.sha256
    except OSError as error:
        raise SidecarError(
            f"{file} cannot be read ({error.strerror})",
            place=path,
            remedy=if_missing,
        ) from None
    if not same:
        raise SidecarError(
            f"{file} is not the file that the sidecar was written for",
            place=path,
            allowed=f"{stated.size} bytes with SHA-256 {stated.sha256}",
            remedy="put that file back, or render it again",
        )


def relative_path(path, folder):
    """Path from a folder, with forward slashes; absolute where there is no way (other drive)."""
    try:
        return Path(os.path.relpath(path.resolve(), Path(folder).resolve())).as_posix()
    except ValueError:
        return path.resolve().as_posix()


def _place(positions, at, path):
    return str(positions[at].value) if at in positions else str(path)
