"""The inside of a tube: exact volume from height and height from volume, for flat, round and conical bottoms.

Heights are measured along the tube's axis from the inside of the bottom. Every function takes plain floats or numpy
arrays that broadcast against each other (one bore a draw, for instance) and returns the same.
"""

from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

Numbers = float | NDArray[np.float64]


class Bottom(StrEnum):
    """The shape of a tube's lower end."""

    FLAT = "flat"
    ROUND = "round"
    CONICAL = "conical"


@dataclass(frozen=True, kw_only=True)
class Tube:
    """A straight bore over a shaped bottom.

    Parameters
    ----------
    inner_diameter_m
        Bore of the straight part.
    bottom
        ``round`` is a hemisphere of the bore's diameter.
    cone_height_m, tip_diameter_m
        Of a conical bottom: height of the cone, inner diameter at its tip (0 for a point).
    """

    inner_diameter_m: Numbers
    bottom: Bottom
    cone_height_m: Numbers = 0.0
    tip_diameter_m: Numbers = 0.0

    @property
    def shaped_height_m(self) -> Numbers:
        """Height of the part that is not a cylinder."""
        if self.bottom is Bottom.ROUND:
            return self.inner_diameter_m / 2
        if self.bottom is Bottom.CONICAL:
            return self.cone_height_m
        return 0.0


def area_m2(tube: Tube, height_m: Numbers) -> NDArray[np.float64]:
    """Return the free cross-section at ``height_m``; 0 at the very tip of a round bottom."""
    bore_m = np.asarray(tube.inner_diameter_m, dtype=float) / 2
    height = np.asarray(height_m, dtype=float)
    if tube.bottom is Bottom.ROUND:
        inside = np.minimum(height, bore_m)
        radius2_m2 = inside * (2 * bore_m - inside)
    elif tube.bottom is Bottom.CONICAL:
        tip_m = np.asarray(tube.tip_diameter_m) / 2
        risen_frac = np.minimum(height / np.asarray(tube.cone_height_m), 1.0)
        radius2_m2 = (tip_m + (bore_m - tip_m) * risen_frac) ** 2
    else:
        radius2_m2 = bore_m**2 + 0 * height
    return np.asarray(np.pi * radius2_m2)


def volume_m3(tube: Tube, height_m: Numbers) -> NDArray[np.float64]:
    """Return the volume below ``height_m``, exactly; ``height_m`` must not be negative."""
    return _volume_below(tube, np.asarray(height_m, dtype=float))


def _volume_below(tube: Tube, height: NDArray[np.float64]) -> NDArray[np.float64]:
    bore_m = np.asarray(tube.inner_diameter_m, dtype=float) / 2
    inside = np.minimum(height, tube.shaped_height_m)
    straight = np.pi * bore_m**2 * (height - inside)
    if tube.bottom is Bottom.ROUND:
        return np.asarray(np.pi * inside**2 * (3 * bore_m - inside) / 3 + straight)
    if tube.bottom is Bottom.CONICAL:
        tip_m = np.asarray(tube.tip_diameter_m) / 2
        radius_m = tip_m + (bore_m - tip_m) * inside / np.asarray(tube.cone_height_m)
        frustum = np.pi * inside * (tip_m**2 + tip_m * radius_m + radius_m**2) / 3
        return np.asarray(frustum + straight)
    return np.asarray(straight)


def height_m(tube: Tube, volume_m3: Numbers) -> NDArray[np.float64]:
    """Return the height to which ``volume_m3`` fills the tube: the inverse of :func:`volume_m3`, in closed form.

    A round bottom asks for the root of a cubic in [0, bore/2], taken by its cosine form, which keeps full precision
    down to an empty tube because the angle is found by an arcsine of a square root.
    """
    bore_m = np.asarray(tube.inner_diameter_m, dtype=float) / 2
    volume = np.asarray(volume_m3, dtype=float)
    shaped_m = np.asarray(tube.shaped_height_m, dtype=float)
    shaped_m3 = _volume_below(tube, shaped_m)
    inside = np.minimum(volume, shaped_m3)
    straight_m = (volume - inside) / (np.pi * bore_m**2)
    if tube.bottom is Bottom.ROUND:
        share = inside / (np.pi * bore_m**3)
        angle = 2 * np.arcsin(np.sqrt(np.clip(0.75 * share, 0, 1))) / 3
        # 1 + 2 cos(a - 2 pi / 3) written as a sum of small terms: no cancellation for a nearly empty tube
        low_m = bore_m * (2 * np.sin(angle / 2) ** 2 + np.sqrt(3) * np.sin(angle))
        return np.asarray(low_m + straight_m)
    if tube.bottom is Bottom.CONICAL:
        tip_m = np.asarray(tube.tip_diameter_m, dtype=float) / 2
        opening = (bore_m - tip_m) / shaped_m
        radius_m = np.cbrt(tip_m**3 + 3 * inside * opening / np.pi)
        # the frustum's own formula: a difference of radii would lose the last digits of a nearly empty cone
        low_m = 3 * inside / (np.pi * (tip_m**2 + tip_m * radius_m + radius_m**2))
        return np.asarray(low_m + straight_m)
    return np.asarray(straight_m)
