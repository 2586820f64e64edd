"""An elastic layer bonded to bone: how its surface answers to pressure, and how stiff a strip finds it.

The surface of a bonded layer of thickness h, pressed without friction by a pressure wave of wave number k,
sinks
in by p 2 (1 - v^2) / (E k) L(k h), with

    L(w) = (2 K sinh 2w - 4 w) / (2 K cosh 2w + 1 + K^2 + 4 w^2),   K = 3 - 4 v.

Textbook result for the bonded layer (K. L. Johnson, Contact Mechanics, 1985, section 4.3 and its references;
from
memory). Held against finite elements, the confined limit and the half-space in the tests.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from scipy.interpolate import RegularGridInterpolator
from scipy.special import j0

from ..mesh import Floats
from ..tables import table

_WAVE_STEP = 0.01
_WAVES = np.arange(0.5 * _WAVE_STEP, 24.0, _WAVE_STEP)  # 1 - L has died out (below 1e-18) at the end
_FAR = 12.0  # thicknesses beyond which a point load is no longer felt (below 1e-5 of the confined answer)


def layer_symbol(wave: Floats, poisson: float) -> Floats:
    """L(w) of the bonded layer at dimensionless wave numbers k h, above zero."""
    kappa = 3.0 - 4.0 * poisson
    # Divided by exp(2 w), so that no large number overflows.
    small = np.exp(-2.0 * wave)
    top = kappa * (1.0 - small**2) - 4.0 * wave * small
    bottom = kappa * (1.0 + small**2) + (1.0 + kappa**2 + 4.0 * wave**2) * small
    return np.asarray(top / bottom)


@cache
def _point_table(poisson: float) -> tuple[Floats, Floats]:
    """Distances over thickness, and the integral of (1 - L(w)) J0(w r) dw at each."""
    distance = np.concatenate([np.linspace(0.0, 3.0, 121), np.linspace(3.05, _FAR, 180)])
    missing = 1.0 - layer_symbol(_WAVES, poisson)
    return distance, np.asarray((j0(np.outer(distance, _WAVES)) @ missing) * _WAVE_STEP)


def point_compliance(
    distance_mm: Floats, thickness_mm: Floats, radius_mm: Floats | float, poisson: float
) -> Floats:
    """Sinking at a distance from a unit force on a layer of modulus 1, per mm (times E: dimension 1/length).

    The force is spread evenly over a disc of ``radius_mm``; under it the mean over the disc's centre is
    given,
    beyond it that of a point force.

    Parameters
    ----------
    distance_mm : any shape.
    thickness_mm, radius_mm : broadcast to it.
    poisson : 0 to below 0.5.
    """
    table_at, lacks = _point_table(round(float(poisson), 6))
    ratio = distance_mm / thickness_mm
    lacking = np.interp(ratio, table_at, lacks, right=np.nan)
    # Half-space: 1 / r beyond the disc, 2 / R in its middle (even pressure, Johnson 1985 section 3.4).
    reach = np.maximum(distance_mm, 0.5 * np.asarray(radius_mm))
    answer = (1.0 - poisson**2) / np.pi * (1.0 / reach - lacking / thickness_mm)
    return np.where(np.isnan(lacking), 0.0, answer)


@cache
def _factor_table() -> tuple[RegularGridInterpolator, Floats, Floats]:
    stored = table("layer")
    poisson, ratios = np.array(stored["poisson"]), np.array(stored["width_over_thickness"])
    axes = (-np.log(0.5 - poisson), np.log(ratios))
    return RegularGridInterpolator(axes, np.log(stored["factor"])), poisson, ratios


def layer_factor(poisson: Floats | float, width_over_thickness: Floats | float) -> Floats:
    """Mean pressure under a flat, rigid, frictionless strip over its sinking, times h / E, for many at once.

    By interpolation in a stored table, within 1 % of the sum it was made by (tested); beyond the borders of
    the table their value is taken.
    """
    found, known, ratios = _factor_table()
    v = np.clip(poisson, known[0], known[-1])
    ratio = np.clip(width_over_thickness, ratios[0], ratios[-1])
    first, second = np.broadcast_arrays(-np.log(0.5 - v), np.log(ratio))
    return np.asarray(np.exp(found(np.stack([first, second], axis=-1)))).reshape(first.shape)


def poisson_rows(poisson: Floats, width_over_thickness: Floats) -> Floats:
    """`layer_factor` (m, n) for one Poisson ratio in each row (m,) and ratios (m, n), quickly."""
    stored = table("layer")
    known, ratios = -np.log(0.5 - np.array(stored["poisson"])), np.log(stored["width_over_thickness"])
    logs = np.log(stored["factor"])
    at = np.interp(-np.log(0.5 - poisson), known, np.arange(len(known)))
    low = np.minimum(at.astype(np.int64), len(known) - 2)
    part = (at - low)[:, None]
    rows = (1.0 - part) * logs[low] + part * logs[low + 1]
    wanted = np.log(width_over_thickness)
    return np.exp([np.interp(want, ratios, row) for want, row in zip(wanted, rows, strict=True)])
