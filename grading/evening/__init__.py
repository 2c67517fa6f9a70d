"""A shoot file: the frames of one evening, and from frame to recipe.

A shoot is a function from frame to recipe, by overlays of recipe keys in a fixed order (`settle`):

1. the look (`recipe`), with what it extends;
2. courses through the evening (`course`): keys whose values run from frame to frame;
3. notes of groups, in the order of the file, then of the frame itself, for all looks and then for
   this one.

A later layer replaces what an earlier one states, key by key, as a recipe does with one that it
extends. What comes out is one recipe for each frame and look; the engine sees nothing else.
"""
