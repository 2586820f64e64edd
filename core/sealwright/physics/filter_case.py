"""The filter with what is not known of it: resistance and penetration as ranges, drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..mesh import Floats
from .breathing import AirwaySettings, exhalation, inhalation
from .leak import Medium
from .slot import L_PER_MIN

_DIFFUSION = -2.0 / 3.0
"""How the logarithm of the penetration grows with the velocity where particles are caught by diffusion:
theory of
fibrous filters (from memory); charged media fall off no slower."""


@dataclass(frozen=True)
class FilterCase:
    """A filter and the way to it.

    Attributes
    ----------
    resistance_pa_s_m : (typical, low, high), clean.
    area_cm2 : open area.
    penetration : (typical, low, high) share of fine particles that pass at ``rated_cm_s``.
    rated_cm_s : velocity at which they are stated.
    airway : ports and valve.
    """

    resistance_pa_s_m: tuple[float, float, float]
    area_cm2: float
    penetration: tuple[float, float, float]
    rated_cm_s: float
    airway: AirwaySettings

    def medium(self, resistance: float | None = None) -> Medium:
        """The medium with the typical or a given resistance; nothing passes it, as in a fit test."""
        return Medium(resistance or self.resistance_pa_s_m[0], self.area_cm2, 0.0)

    def resistances(self, normal: Floats) -> Floats:
        """Drawn resistances (m,): even in logarithms from the low to the high end, from normal numbers."""
        low, high = np.log(self.resistance_pa_s_m[1:])
        return np.asarray(np.exp(low + (high - low) * _uniform(normal)))

    def penetrations(self, normal: Floats, flow_l_min: float) -> Floats:
        """Drawn penetrations (m,) at a flow: nine of ten between low and high, at the velocity there."""
        typical, low, high = (min(max(p, 1e-9), 1.0 - 1e-9) for p in self.penetration)
        side = np.where(normal < 0.0, np.log(typical / low), np.log(high / typical))
        rated = np.minimum(typical * np.exp(normal / 1.645 * side), 1.0 - 1e-9)
        velocity = flow_l_min * L_PER_MIN * 1e6 / self.area_cm2
        return np.asarray(np.exp(np.log(rated) * (velocity / self.rated_cm_s) ** _DIFFUSION))

    def gauge_pa(self, phase: str, flow_l_min: float, resistances: Floats) -> Floats:
        """Gauge pressure (m,) in the mask at a flow: negative breathing in, positive breathing out."""
        known = np.geomspace(resistances.min(), max(resistances.max(), resistances.min() * 1.001), 9)
        breath = exhalation if phase == "exhalation" else inhalation
        total = [breath(flow_l_min, self.medium(float(k)), self.airway).total_pa for k in known]
        sign = 1.0 if phase == "exhalation" else -1.0
        return np.asarray(sign * np.interp(resistances, known, total))


def _uniform(normal: Floats) -> Floats:
    from scipy.special import ndtr

    return np.asarray(ndtr(normal))
