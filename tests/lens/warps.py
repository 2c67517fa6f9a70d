"""Distortion as WarpRectilinear of the DNG specification states it."""

from grading.lens.optics import Warp, farthest


def rectilinear(radial, tangential=(0.0, 0.0), centre=(0.5, 0.5), size=(600, 400)):
    """The warp of k0 to k3, and t0 and t1, for frames of the proportions of a size."""
    k0, k1, k2, k3 = radial
    return Warp(centre, farthest(centre, *size), (k0, 0.0, k1, 0.0, k2, 0.0, k3), tangential[::-1])
