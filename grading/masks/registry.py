"""What masks are made of, in the order in which it is explained."""

from grading.masks import chroma, detail, ellipse, gradient, hue, lightness

SHAPES = (
    gradient.SHAPE,
    ellipse.SHAPE,
    lightness.SHAPE,
    hue.SHAPE,
    chroma.SHAPE,
    detail.SHAPE,
)
