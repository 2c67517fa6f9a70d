"""Charts of flat patches, and what a decoder made of them."""

import numpy as np

# Matrices close to those of common sensors; any invertible ones would do.
MATRIX_A = np.array([[0.9, -0.35, -0.05], [-0.4, 1.2, 0.25], [-0.05, 0.2, 0.55]])
MATRIX_D65 = np.array([[0.65, -0.12, -0.08], [-0.38, 1.16, 0.25], [-0.04, 0.15, 0.6]])
PATCH = 24


def patches(rows=3, columns=4, channels=3):
    """A chart of flat patches in camera light, shape (rows * PATCH, columns * PATCH, channels)."""
    colours = np.random.default_rng(7).uniform(0.02, 0.9, (rows, columns, channels))
    return np.kron(colours, np.ones((PATCH, PATCH, 1)))


def patch_means(planes):
    """Means of the middles of all patches, shape (rows, columns, 3)."""
    height, width = planes.shape[1:]
    cells = planes.reshape(3, height // PATCH, PATCH, width // PATCH, PATCH)
    return cells[:, :, 8:-8, :, 8:-8].mean(axis=(2, 4)).transpose(1, 2, 0)


def whole(frame):
    return frame.pixels.read(frame.region)
