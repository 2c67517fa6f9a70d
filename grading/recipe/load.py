"""Recipes from files and from plain mappings."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from os import PathLike
from pathlib import Path
from types import MappingProxyType
from typing import Any

from pydantic import ValidationError

from grading.errors import RecipeError
from grading.masks.where import Where
from grading.recipe.cameras import read_cameras
from grading.recipe.corrections import read_correction
from grading.recipe.images import with_paths
from grading.recipe.inheritance import find_recipe, merge, merge_chain, read_chain
from grading.recipe.keys import in_yaml, recipe_root
from grading.recipe.masks import Masks
from grading.recipe.model import HEADER, RecipeModel
from grading.recipe.problems import dotted, recipe_error
from grading.stages.registry import PARTS, STAGES
from grading.yaml_text import check_limits


@dataclass(frozen=True)
class Adjustment:
    """A local adjustment: where, with what named masks mean in their place, and the parameters of
    every local stage by its name."""

    where: Where
    stages: Mapping[str, Any]


@dataclass(frozen=True)
class Recipe:
    """A recipe, checked.

    Attributes
    ----------
    path : Path or None
        The file; None for one made from a mapping.
    title, description : str
    parts : mapping from str to Model
        Parameters of every part, in the order of `grading.stages.registry.PARTS`; at their
        defaults they leave alone.
    local : mapping from str to Adjustment
        Local adjustments by name, in the order in which they act.
    stated : mapping
        The plain values as stated, inheritance done.
    positions : mapping
        From path to `grading.yaml_text.EntryPosition`, for every stated value.
    layers : mapping
        From path to what laid a value over the recipe, in words.
    """

    path: Path | None
    title: str
    description: str
    parts: Mapping[str, Any]
    local: Mapping[str, Adjustment]
    stated: Mapping[str, Any] = field(repr=False)
    positions: Mapping[tuple, Any] = field(repr=False)
    layers: Mapping[tuple, str] = field(default_factory=dict, repr=False)

    @property
    def stages(self) -> Mapping[str, Any]:
        """The parameters of every stage, in pipeline order."""
        return {stage.name: self.parts[stage.name] for stage in STAGES}

    @property
    def digest(self) -> str:
        """SHA-256 of all values that make pixels, wherever they were stated; 64 digits.

        A mask's image counts by its own digest, wherever it lies.
        """
        values = {k: v for k, v in self.as_mapping().items() if k not in HEADER}
        values = with_paths(values, lambda path: "")
        return hashlib.sha256(json.dumps(values).encode()).hexdigest()

    @property
    def sources(self) -> dict[str, str]:
        """Where each value that makes pixels is stated, by its dotted key: ``dusk.yaml:9``, and
        what laid it over the recipe where something did: ``evening.yaml:14, course``.
        """
        found = {}
        for path in _leaves(self.stated):
            if path[0] not in HEADER and path in self.positions:
                at = self.positions[path].value
                layer = self.layers.get(path)
                place = f"{Path(at.place).name}:{at.line}"
                found[dotted(path)] = f"{place}, {layer}" if layer else place
        return found

    @property
    def acting(self) -> list[str]:
        """Names of the parts that are not at their defaults, and of local adjustments.

        The latter as ``local.NAME``.
        """
        return [*_changed(self.parts), *(f"local.{name}" for name in self.local)]

    def without(self, name: str) -> "Recipe":
        """The recipe with one of `acting` left out."""
        if name in self.parts:
            plain = type(self.parts[name])()
            return replace(self, parts=MappingProxyType({**self.parts, name: plain}))
        kept = {key: each for key, each in self.local.items() if f"local.{key}" != name}
        return replace(self, local=MappingProxyType(kept))

    def as_mapping(self) -> dict[str, Any]:
        """Plain values of all that is not at its default; `recipe_from_mapping` reads it back."""
        header = {"grading": 1, "title": self.title}
        if self.description:
            header["description"] = self.description
        local = {
            name: {"where": _plain(adjustment.where)} | _changed(adjustment.stages)
            for name, adjustment in self.local.items()
        }
        return header | _changed(self.parts) | ({"local": local} if local else {})


@dataclass(frozen=True)
class Stated:
    """What a recipe states, inheritance done, not yet checked value by value.

    Attributes
    ----------
    path : Path
        Its file.
    data : dict
        Plain values.
    positions : dict
        From path to `grading.yaml_text.EntryPosition`.
    layers : dict
        From path to what laid a value over the recipe, in words.
    """

    path: Path
    data: dict
    positions: dict
    layers: dict = field(default_factory=dict)

    def under(
        self, data: Mapping[str, Any], positions: Mapping[tuple, Any], layer: str
    ) -> "Stated":
        """The same with other keys laid over it, which replace what is stated here.

        Parameters
        ----------
        data, positions : mapping
        layer : str
            What lays them over, in words.
        """
        return Stated(
            self.path,
            merge(recipe_root(), self.data, data),
            self.positions | positions,
            self.layers | dict.fromkeys(positions, layer),
        )

    def checked(self) -> "Recipe":
        """The recipe.

        Raises
        ------
        RecipeError
            With ``file:line:column`` for everything that is wrong.
        """
        check_limits(self.data, self.path)
        return _recipe(self.data, self.positions, str(self.path), self.path, self.layers)


def read_stated(path: Path) -> Stated:
    """What a recipe file and all that it extends state.

    Raises
    ------
    RecipeError
        If a file cannot be read, or is no recipe.
    """
    return Stated(path, *merge_chain(read_chain(path)))


def load_recipe(path: str | PathLike[str]) -> Recipe:
    """A recipe from a YAML file or a shipped look.

    Parameters
    ----------
    path : path-like
        A file, or the bare name of a shipped look.

    Returns
    -------
    Recipe

    Raises
    ------
    RecipeError
        With ``file:line:column`` for everything that is wrong.
    """
    return read_stated(find_recipe(str(path))).checked()


def recipe_from_mapping(
    mapping: Mapping[str, Any], place: str, folder: Path | None = None
) -> Recipe:
    """A recipe from plain values, such as the resolved numbers of a sidecar; it reads no file.

    Parameters
    ----------
    mapping : mapping
        What `Recipe.as_mapping` gives.
    place : str
        What errors name.
    folder : Path, optional
        What the paths of images are relative to.

    Raises
    ------
    RecipeError
        For what is wrong, and for a recipe that names a file.
    """
    check_limits(mapping, place)
    data = merge(recipe_root(), {}, mapping)
    for path in (("extends",), ("cdl", "file"), ("white_balance", "cameras")):
        name, value = ".".join(path), data
        for key in path:
            value = value.get(key) if isinstance(value, dict) else None
        if value is not None:
            raise RecipeError(
                f"{name} = {in_yaml(value)}: names a file",
                place=str(place),
                allowed="numbers: a recipe that is no file reads none",
                remedy="restore the sidecar, or write the values out",
            )
    return _recipe(data, {}, str(place), None, folder=folder)


def _recipe(data, positions, place, path, layers=MappingProxyType({}), folder=None):
    try:
        model = RecipeModel.model_validate(data)
    except ValidationError as error:
        raise recipe_error(error, data, positions, place) from None
    if model.cdl.file is not None:
        cdl = read_correction(model.cdl, positions["cdl", "file"].value)
        model = model.model_copy(update={"cdl": cdl})
    if model.white_balance.cameras is not None:
        balance = read_cameras(model.white_balance, positions)
        model = model.model_copy(update={"white_balance": balance})
    local_stages = [stage for stage in STAGES if stage.local]
    masks = Masks(model.masks, positions, place, folder)
    local = {
        name: Adjustment(
            masks.resolved(adjustment.where, ("local", name, "where")),
            _parameters(adjustment, local_stages),
        )
        for name, adjustment in model.local.items()
    }
    return Recipe(
        path=path,
        title=model.title or (path.stem if path else ""),
        description=model.description or "",
        parts=_parameters(model, PARTS),
        local=MappingProxyType(local),
        stated=MappingProxyType(data),
        positions=MappingProxyType(positions),
        layers=MappingProxyType(layers),
    )


def _parameters(model, parts):
    return MappingProxyType({part.name: getattr(model, part.name) for part in parts})


def _plain(parameters):
    return parameters.model_dump(exclude_defaults=True, by_alias=True)


def _changed(parts):
    plain = {name: _plain(parameters) for name, parameters in parts.items()}
    return {name: values for name, values in plain.items() if values}


def _leaves(data, path=()):
    for key, value in data.items():
        if isinstance(value, dict):
            yield from _leaves(value, (*path, key))
        else:
            yield *path, key
