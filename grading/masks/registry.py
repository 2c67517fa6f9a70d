"""The shapes of masks, in the order in which they are explained."""

from grading.masks import ellipse, gradient

SHAPES = (gradient.SHAPE, ellipse.SHAPE)
