"""Speed, force and time of a rotor.

Holds nothing about which rotor: callers pass the radius at the place they speak of.
"""

import math
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

STANDARD_GRAVITY_M_S2 = 9.80665
"""Exact by definition (third General Conference on Weights and Measures, 1901)."""

SVEDBERG_S = 1e-13

Real = TypeVar("Real", float, NDArray[np.float64])


def relative_force(*, radius_m: Real, speed_rad_s: Real) -> Real:
    """Relative centrifugal force at ``radius_m``, in multiples of standard gravity; numbers or arrays alike.

    Notes
    -----
    ω² r / g₀. With r in cm and the speed in rpm this is 4π² / (3600 · 100 · g₀) · r · rpm², whose factor 1.11824e-5
    is often cut to 1.118e-5.
    """
    return speed_rad_s * speed_rad_s * radius_m / STANDARD_GRAVITY_M_S2


def speed_rad_s(*, relative_force: Real, radius_m: Real) -> Real:
    """Angular speed that gives ``relative_force`` at ``radius_m``, which must be above zero; arrays too."""
    speed: Real = (relative_force * STANDARD_GRAVITY_M_S2 / radius_m) ** 0.5
    return speed


def speed_from_rpm_rad_s(speed_rpm: Real) -> Real:
    """Angular speed of ``speed_rpm`` revolutions a minute."""
    return speed_rpm * (2 * math.pi / 60)


def rpm(speed_rad_s: Real) -> Real:
    """Revolutions a minute of an angular speed; the inverse of :func:`speed_from_rpm_rad_s`."""
    return speed_rad_s * (60 / (2 * math.pi))


def clearing_factor(*, inner_radius_m: float, outer_radius_m: float, speed_rad_s: float) -> float:
    """Return the k factor: hours to clear a column of particles that settle at one svedberg.

    Notes
    -----
    k = ln(r_outer / r_inner) / ω² / 1e-13 s / 3600. A smaller k clears sooner, and k falls with the square of speed.
    """
    return math.log(outer_radius_m / inner_radius_m) / (speed_rad_s * speed_rad_s) / SVEDBERG_S / 3600


def equivalent_time_s(*, at_speed_s: float, up_s: float, down_s: float) -> float:
    """Time at full speed that moves a cell as far as a spin with linear ramps does.

    Notes
    -----
    The integral of (ω/ω₀)² over a linear ramp is a third of the ramp's length.
    """
    return at_speed_s + up_s / 3 + down_s / 3


def gravity_minutes(*, relative_force: Real, at_speed_s: Real) -> Real:
    """Force times time in g·min, the product by which spins are often compared."""
    return relative_force * at_speed_s / 60
