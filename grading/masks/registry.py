"""What masks are made of, in the order in which it is explained."""

from grading.masks import chroma, detail, ellipse, gradient, hue, image, lightness, path, polygon

SHAPES = (
    gradient.SHAPE,
    ellipse.SHAPE,
    polygon.SHAPE,
    path.SHAPE,
    image.SHAPE,
    lightness.SHAPE,
    hue.SHAPE,
    chroma.SHAPE,
    detail.SHAPE,
)
