"""Where the camera is, and how the world's planes project onto the canvas.

World: metres, X to the right, Z ahead, height above the water. The canvas is rendered at twice
the picture's resolution with a margin for the boat's roll.
"""

from dataclasses import dataclass

import numpy as np

OVERSAMPLING = 2
HORIZON = 0.41  # share of the picture's height
FOCAL_LENGTH, SENSOR_WIDTH = 35.0, 36.0  # millimetres


@dataclass(frozen=True)
class View:
    """Pose of the camera for one frame.

    Attributes
    ----------
    width, height : int
        Of the picture, pixels.
    x, z : float
        Position of the boat, metres.
    eye : float
        Height of the camera above the water, metres.
    pan, tilt : float
        Shift of the picture to the right and up, as tangents.
    roll : float
        Degrees, positive where the picture's horizon falls to the right.
    """

    width: int
    height: int
    x: float = 0.0
    z: float = 0.0
    eye: float = 3.2
    pan: float = 0.0
    tilt: float = 0.0
    roll: float = 0.0

    @property
    def focal(self):
        """Focal length in canvas pixels."""
        return OVERSAMPLING * self.width * FOCAL_LENGTH / SENSOR_WIDTH

    @property
    def margin(self):
        """Canvas pixels around the picture on every side."""
        return OVERSAMPLING * self.width // 24

    @property
    def shape(self):
        """Rows and columns of the canvas."""
        return (
            OVERSAMPLING * self.height + 2 * self.margin,
            OVERSAMPLING * self.width + 2 * self.margin,
        )

    @property
    def across(self):
        """Tangent of every column to the right of straight ahead, shape (columns,)."""
        columns = self.shape[1]
        offset = np.arange(columns, dtype=np.float32) + 0.5 - columns / 2
        return offset / np.float32(self.focal) + np.float32(self.pan)

    @property
    def up(self):
        """Tangent of every row above the horizon, shape (rows,)."""
        horizon = self.margin + OVERSAMPLING * self.height * HORIZON + self.tilt * self.focal
        return (horizon - np.arange(self.shape[0], dtype=np.float32) - 0.5) / np.float32(self.focal)


@dataclass(frozen=True)
class Wall:
    """An upright plane along a straight line of the map.

    Attributes
    ----------
    x, z : float
        Where distance along the line is 0, metres.
    along : tuple of float
        Unit vector of the line in (X, Z).
    """

    x: float
    z: float
    along: tuple

    def behind(self, setback):
        """The parallel plane `setback` metres farther from the viewer."""
        tx, tz = self.along
        return Wall(self.x - tz * setback, self.z + tx * setback, self.along)

    def columns(self, view):
        """Distance along the line and depth ahead of the camera at every canvas column."""
        q, (tx, tz) = view.across, self.along
        px, pz = self.x - view.x, self.z - view.z
        facing = tx - q * tz
        with np.errstate(divide="ignore", invalid="ignore"):
            u = np.where(facing > 0.05, (q * pz - px) / facing, np.nan)
        return u, pz + u * tz

    def patch(self, view, u0, u1, low, high):
        """The part of the canvas that shows u0..u1 along and low..high metres above the water.

        None where no part of it is in view; otherwise the five below.

        Returns
        -------
        rows, columns : slice
        u : ndarray, shape (1, columns)
        v : ndarray, shape (rows, columns)
            Metres along and above the water at each pixel.
        depth : ndarray, shape (1, columns)
        """
        u, depth = self.columns(view)
        seen = np.flatnonzero((u >= u0) & (u <= u1) & (depth > 5))
        if not len(seen):
            return None
        columns = slice(seen[0], seen[-1] + 1)
        u, depth = u[columns], depth[columns]
        top = ((high - view.eye) / depth).max()
        bottom = ((low - view.eye) / depth).min()
        inside = np.flatnonzero((view.up <= top) & (view.up >= bottom))
        if not len(inside):
            return None
        rows = slice(inside[0], inside[-1] + 1)
        v = view.eye + view.up[rows, None] * depth
        return rows, columns, u[None], v, depth[None]
