"""Leak of many draws at once: the same slots and mass balance as `leak.leak_through`."""

from __future__ import annotations

import numpy as np

from ..mesh import Floats
from .batch import Singles
from .leak_settings import LeakSettings
from .loop import Loop
from .slot import L_PER_MIN, slot_series_flow, slot_terms


def leak_of_openings(
    loop: Loop, opening_mm: Singles, per_flow: Floats, flow_l_min: float, settings: LeakSettings
) -> Floats:
    """Leak (m, s) of every station, L/min, for openings (m, n) in the patch's own order, all above zero.

    Parameters
    ----------
    loop : stations.
    opening_mm : open distance, never zero.
    per_flow : (m,) pressure per flow of the filter, Pa s/m3.
    flow_l_min : the breath.
    settings : entrance loss.
    """
    sorted_ = loop.sorted_rows(opening_mm)
    slices = loop.depth_mm.astype(np.float32) / (sorted_ * sorted_ * sorted_)
    resistance = np.add.reduceat(slices, loop.starts, axis=1).astype(np.float64)
    smallest = np.minimum.reduceat(sorted_, loop.starts, axis=1).astype(np.float64)
    linear, square = slot_terms(loop.width_mm, resistance, smallest, settings.entrance_loss)
    breath = flow_l_min * L_PER_MIN
    pressure = common_pressure(linear, square, per_flow, breath)
    return np.asarray(slot_series_flow(linear, square, pressure[:, None]) / L_PER_MIN)


def common_pressure(linear: Floats, square: Floats, per_flow: Floats, breath: float) -> Floats:
    """Pressure (m,) at which filter and gaps together pass the breath: Newton on rising, concave sums."""
    pressure = per_flow * breath
    for _ in range(60):
        root = np.sqrt(linear * linear + 4.0 * square * pressure[:, None])
        flow = (2.0 * pressure[:, None] / (linear + root)).sum(axis=1) + pressure / per_flow
        slope = (1.0 / root).sum(axis=1) + 1.0 / per_flow
        step = (flow - breath) / slope
        # From the right a tangent may undershoot zero; from the left it never overshoots.
        pressure = np.maximum(pressure - step, 1e-3 * pressure)
        if np.abs(step).max() <= 1e-9 * float((per_flow * breath).max()):
            break
    return np.asarray(pressure)
