"""What masks name: other masks, which are put in their place, and files of pictures."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from grading.errors import RecipeError
from grading.masks.where import Where
from grading.messages import nearest, shortened
from grading.recipe.images import found_image, recorded_image
from grading.recipe.problems import dotted

if TYPE_CHECKING:
    from grading.yaml_text import EntryPosition

MOST = 1000
"""Shapes that a mask may come to, with what its names mean; names can multiply each other."""


class Masks:
    """The masks of a recipe by their names.

    Parameters
    ----------
    masks : mapping from str to Where
        As they are stated.
    positions : mapping
        From path in the recipe to `grading.yaml_text.EntryPosition`; may be empty.
    place : str
        What is named where there is no position.
    folder : Path, optional
        What paths of images without a position are relative to.

    Raises
    ------
    RecipeError
        As `resolved` does, for any of them, used or not.
    """

    def __init__(
        self,
        masks: Mapping[str, Where],
        positions: Mapping[tuple, EntryPosition],
        place: str,
        folder: Path | None = None,
    ) -> None:
        self._masks, self._positions, self._place = masks, positions, place
        self._folder = folder
        self._known, self._sizes = {}, {}
        for name in masks:
            self._meant(name, ("masks", name), ())

    def resolved(self, where: Where, path: tuple) -> Where:
        """A mask with what its names mean in their place, and the digests of its images.

        Parameters
        ----------
        where : Where
        path : tuple
            Where it is stated.

        Raises
        ------
        RecipeError
            If there is no mask of a name, a mask would be made of itself, or of too many shapes,
            or an image cannot be used.
        """
        return self._resolved(where, path, ())

    def _resolved(self, where, path, above):
        if where.mask is not None:
            meant = self._meant(where.mask, (*path, "mask"), above)
            return where.model_copy(update={"mask": None, "all": [meant]}) if where.grow else meant
        parts = {
            key: [self._resolved(part, (*path, key, i), above) for i, part in enumerate(each)]
            for key in ("all", "any")
            if (each := getattr(where, key))
        }
        if where.not_:
            parts["not_"] = self._resolved(where.not_, (*path, "not"), above)
        if where.image:
            parts["image"] = self._image(where.image, (*path, "image", "file"))
        if self._size(where) > MOST:
            raise RecipeError(
                f"{dotted(path)}: a mask of {self._size(where)} shapes, names included",
                place=self._at(path),
                allowed=f"up to {MOST} shapes",
            )
        return where.model_copy(update=parts) if parts else where

    def _image(self, image, path):
        if path in self._positions:
            return found_image(image, self._positions[path].value)
        return recorded_image(image, self._place, self._folder)

    def _size(self, where):
        if where.mask is not None:
            return self._sizes[where.mask]
        return sum(map(self._size, where.parts)) or 1

    def _meant(self, name, path, above):
        if name not in self._masks:
            raise self._no_such(name, path)
        if name in above:
            way = " -> ".join(map(shortened, [*above[above.index(name) :], name]))
            raise RecipeError(
                f"{dotted(path)}: masks are made of each other in a circle: {way}",
                place=self._at(path),
                remedy="take the name out of one of them",
            )
        if name not in self._known:
            stated = self._masks[name]
            self._known[name] = self._resolved(stated, ("masks", name), (*above, name))
            self._sizes[name] = self._size(stated)
        return self._known[name]

    def _no_such(self, name, path):
        close = nearest(name, self._masks)
        return RecipeError(
            f"{dotted(path)} = {shortened(name)}: there is no mask of this name",
            place=self._at(path),
            allowed=", ".join(map(shortened, self._masks)) or None,
            remedy=f"did you mean {shortened(close)}?"
            if close
            else "state it under masks, beside local",
        )

    def _at(self, path):
        return str(self._positions[path].value) if path in self._positions else self._place
