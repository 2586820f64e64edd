"""Air through a narrow gap: plane slot flow with entrance and exit loss."""

from __future__ import annotations

import numpy as np

from ..mesh import Floats

VISCOSITY_PA_S = 1.81e-5
"""Dynamic viscosity of air at about 20 deg C (docs/standards section 5.3)."""

DENSITY_KG_M3 = 1.2
"""Density of air at about 20 deg C (docs/standards section 5.3)."""

L_PER_MIN = 1.0 / 60000.0
"""One litre per minute in m3/s."""


def slot_terms(
    width_mm: Floats, resistance_per_mm2: Floats, smallest_gap_mm: Floats, loss: float
) -> tuple[Floats, Floats]:
    """Linear and square term of the pressure loss of slots: dp = a Q + b Q^2, Q in m3/s.

    Parameters
    ----------
    width_mm : (s,).
    resistance_per_mm2 : (s,) integral of dx / h^3 along the way of the air, 1/mm2.
    smallest_gap_mm : (s,) where the entrance and exit loss is taken.
    loss : loss coefficient on the velocity head there: 0.5 sharp entrance plus 1.0 exit.
    """
    linear = 12.0 * VISCOSITY_PA_S * resistance_per_mm2 / (width_mm * 1e-9)
    area = width_mm * smallest_gap_mm * 1e-6
    return linear, 0.5 * DENSITY_KG_M3 * loss / (area * area)


def slot_series_flow(linear: Floats, square: Floats, pressure_pa: Floats | float) -> Floats:
    """Flow (s,) m3/s that makes a Q + b Q^2 equal to a pressure, in a form safe from cancellation."""
    return np.asarray(2.0 * pressure_pa / (linear + np.sqrt(linear * linear + 4.0 * square * pressure_pa)))
