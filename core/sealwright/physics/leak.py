"""Leak through the residual gaps round the whole loop, and the fit factor that follows from it.

Weak points: the gap is that of a rigid body on independent springs; skin folds, sweat, hair, talking and
turning the head are not in it. The cube of the gap makes a 10 % error of gap a 30 % error of leak. A
prediction is no fit test.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..mesh import Floats
from ..settings import check_settings
from ..values import require_range
from .leak_settings import LeakSettings
from .loop import Loop
from .slot import L_PER_MIN, slot_series_flow, slot_terms


@dataclass(frozen=True)
class Medium:
    """The filter as plain numbers.

    Attributes
    ----------
    resistance_pa_s_m : pressure drop over face velocity, Pa s/m.
    area_cm2 : open filter area.
    penetration : share of particles that pass it, 0 to 1.
    """

    resistance_pa_s_m: float
    area_cm2: float
    penetration: float

    def pressure_per_flow(self) -> float:
        """Pressure drop per flow, Pa s/m3: linear law dp = k Q / A.

        Raises
        ------
        BadRecipe : a value out of range.
        """
        resistance = require_range(self.resistance_pa_s_m, 1.0, 1e6, "Pa s/m", "medium.resistance_pa_s_m")
        area = require_range(self.area_cm2, 0.1, 10000.0, "cm2", "medium.area_cm2")
        require_range(self.penetration, 0.0, 1.0, "1", "medium.penetration")
        return resistance / (area * 1e-4)


@dataclass(frozen=True, eq=False)
class LeakResult:
    """Leak of one mask on one face at one breathing flow.

    Attributes
    ----------
    pressure_pa : below outside in the mask.
    leak_l_min, leak_share : flow through the gaps, and as a share of the breath.
    fit_factor : outside over inside concentration.
    station_l_min : (s,) leak of each station.
    """

    pressure_pa: float
    leak_l_min: float
    leak_share: float
    fit_factor: float
    station_l_min: Floats


def fit_factor(leak_share: float, penetration: float) -> float:
    """Outside over inside concentration: 1 / (leak + penetration (1 - leak)).

    A mass balance; for small leaks it is 1 / (leak + penetration) of docs/standards section 5.3. Loss of
    particles in the gap is left out, which is on the safe side.

    Raises
    ------
    BadRecipe : a share outside 0 to 1, or both zero.
    """
    leak = require_range(leak_share, 0.0, 1.0, "1", "leak_share")
    through = require_range(penetration, 0.0, 1.0, "1", "penetration")
    inside = leak + through * (1.0 - leak)
    return 1.0 / require_range(inside, 1e-9, 1.0, "1", "leak_share + penetration")


def gap_resistance(loop: Loop, gap_mm: Floats, relief_mm: float) -> tuple[Floats, Floats]:
    """Resistance of every station's way across the band, and its narrowest place.

    Lubrication flow through slices in series: the integral of dx / h^3 across the band. One point that
    touches closes its station, but for the relief.

    Parameters
    ----------
    loop : stations of the band.
    gap_mm : (n,) open distance, in the patch's own order.
    relief_mm : opening that stays where skin and band touch.

    Returns
    -------
    resistance_per_mm2 : (s,) infinite where shut.
    smallest_mm : (s,).
    """
    opening = np.maximum(np.maximum(0.0, gap_mm), relief_mm)[loop.order]
    cube = opening**3
    slices = np.divide(loop.depth_mm, cube, out=np.full_like(cube, np.inf), where=cube > 0.0)
    return np.add.reduceat(slices, loop.starts), np.minimum.reduceat(opening, loop.starts)


def leak_through(
    loop: Loop, gap_mm: Floats, medium: Medium, settings: LeakSettings | None = None
) -> LeakResult:
    """Share a breath between the filter and the gaps, and give the fit factor.

    The pressure in the mask is the one at which the flow through the filter and through all gaps add up to
    the breath; only breathing in carries particles in.

    Parameters
    ----------
    loop : stations of the band.
    gap_mm : (n,) open distance after contact.
    medium : the filter.
    settings : flow and losses.

    Raises
    ------
    BadRecipe : a value out of range.
    """
    chosen = settings or LeakSettings()
    check_settings(chosen, "leak")
    resistance, smallest = gap_resistance(loop, gap_mm, chosen.skin_relief_mm)
    open_ = np.isfinite(resistance)
    linear, square = slot_terms(
        loop.width_mm[open_], resistance[open_], smallest[open_], chosen.entrance_loss
    )
    breath = chosen.flow_l_min * L_PER_MIN
    per_flow = medium.pressure_per_flow()
    pressure = _common_pressure(linear, square, per_flow, breath)
    station = np.zeros(len(resistance))
    station[open_] = slot_series_flow(linear, square, pressure)
    leak = float(station.sum())
    share = min(1.0, leak / breath)
    factor = fit_factor(share, medium.penetration) if share + medium.penetration > 1e-9 else np.inf
    return LeakResult(pressure, leak / L_PER_MIN, share, float(factor), station / L_PER_MIN)


def _common_pressure(linear: Floats, square: Floats, per_flow: float, breath: float) -> float:
    """Pressure at which filter and gaps together pass the breath: Newton on a rising, concave sum."""
    high = per_flow * breath
    pressure = high
    for _ in range(60):
        root = np.sqrt(linear * linear + 4.0 * square * pressure)
        flow = float((2.0 * pressure / (linear + root)).sum()) + pressure / per_flow
        slope = float((1.0 / root).sum()) + 1.0 / per_flow
        # The sum is concave, so a tangent from the left never overshoots; from the right it may undershoot
        # zero.
        step = (flow - breath) / slope
        pressure = max(pressure - step, 1e-3 * pressure)
        if abs(step) <= 1e-12 * high:
            break
    return pressure
