"""The push of the air in the chamber on the mask, and the least strap force that holds against it."""

from __future__ import annotations

import numpy as np

from ..mesh import Floats
from ..values import require_range
from .equilibrium import Wrench
from .patch import ContactPatch


def _fan(patch: ContactPatch) -> tuple[Floats, Floats]:
    """Area vectors (s, 3) mm2, out of the face, and centres (s, 3) mm of a flat fan over the seal line."""
    line = patch.loop.line
    centre, after = line.mean(axis=0), np.roll(line, -1, axis=0)
    vectors = 0.5 * np.cross(line - centre, after - centre)
    outward = 1.0 if float(vectors.sum(axis=0) @ (patch.areas @ patch.normals)) >= 0.0 else -1.0
    return outward * vectors, (line + after + centre) / 3.0


def projected_area_mm2(patch: ContactPatch) -> float:
    """Area enclosed by the seal line, seen along its own axis, mm2."""
    return float(np.linalg.norm(_fan(patch)[0].sum(axis=0)))


def breath_wrench(patch: ContactPatch, gauge_pa: float) -> Wrench:
    """Force and moment of the air in the chamber on the mask, about the centre of the band.

    A uniform pressure has the same resultant on every surface spanned by the seal line (divergence theorem),
    so a flat fan is exact. Positive gauge pressure (breathing out) lifts the mask off; negative pulls it on.

    Raises
    ------
    BadRecipe : pressure outside -5000 to 5000 Pa.
    """
    pressure = 1e-6 * require_range(gauge_pa, -5000.0, 5000.0, "Pa", "gauge_pa")
    vectors, middle = _fan(patch)
    return Wrench(
        pressure * vectors.sum(axis=0), pressure * np.cross(middle - patch.centre, vectors).sum(axis=0)
    )


def lift_off_pull_n(
    projected_cm2: float, seal_cm2: float, gauge_pa: float, margin_pa: float = 101.0
) -> float:
    """Least strap force that keeps a mask on while breathing out, N.

    Gauge pressure times projected area plus the seal margin times the seal area (docs/standards section 6).

    Raises
    ------
    BadRecipe : a value out of range.
    """
    projected = require_range(projected_cm2, 1.0, 500.0, "cm2", "projected_cm2")
    seal = require_range(seal_cm2, 0.1, 500.0, "cm2", "seal_cm2")
    gauge = require_range(gauge_pa, 0.0, 5000.0, "Pa", "gauge_pa")
    margin = require_range(margin_pa, 0.0, 5000.0, "Pa", "margin_pa")
    return 1e-4 * (gauge * projected + margin * seal)
