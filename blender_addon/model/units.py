# SPDX-License-Identifier: GPL-3.0-or-later
"""Length: the one place where Blender units become millimetres and back."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from ..core.errors import ImplausibleSize, Where

if TYPE_CHECKING:
    import bpy

    from ..core.mesh import TriMesh

# What one Blender unit of the scan is. SCENE takes the scene's own unit scale.
UNIT_ITEMS = (
    ("SCENE", "As the Scene Says", "One unit is the scene's unit scale in metres"),
    ("MM", "Millimetres", "One unit is 1 mm, as most scan files are meant"),
    ("CM", "Centimetres", "One unit is 10 mm"),
    ("M", "Metres", "One unit is 1000 mm"),
    ("IN", "Inches", "One unit is 25.4 mm"),
    ("MEASURED", "By a Measured Length", "From two points on the scan and their true distance"),
)
FIXED_MM = {"MM": 1.0, "CM": 10.0, "M": 1000.0, "IN": 25.4}

FEWEST_TRIANGLES = 300  # a face at 15 mm between points; a coarser one has no nose
# A head is 150 to 350 mm long and a face crop at least 60 mm; twice the larger is still let through.
SMALLEST_MM, LARGEST_MM = 60.0, 700.0


def mm_per_unit(scene: bpy.types.Scene, unit: str, measured: float) -> float:
    """Millimetres in one Blender unit.

    Parameters
    ----------
    scene : its unit scale counts where ``unit`` is SCENE.
    unit : one of `UNIT_ITEMS`.
    measured : mm per unit found from a known length, used where ``unit`` is MEASURED.
    """
    if unit == "SCENE":
        return float(str(np.float32(scene.unit_settings.scale_length))) * 1000.0  # 0.001, not 0.00100000005
    return measured if unit == "MEASURED" else FIXED_MM[unit]


def check_size(mesh: TriMesh, unit: str) -> None:
    """Refuse a scan that cannot be a head or a face in the unit that was said.

    Raises
    ------
    ImplausibleSize : with the unit that would make it a face, when there is one; nothing is guessed silently.
    """
    longest = float(mesh.extents.max())
    if SMALLEST_MM <= longest <= LARGEST_MM:
        return
    better = plausible_unit(longest, unit)
    fix = "Measure a known length on the scan in the Scan panel."
    if better:
        label = {key: name for key, name, _ in UNIT_ITEMS}[better]
        fix = f"Set the scan's unit to {label} in the Scan panel, or measure a known length on it."
    raise ImplausibleSize(
        f"The scan would be {spoken_length(longest)} long; a face is {SMALLEST_MM:.0f} to "
        f"{LARGEST_MM:.0f} mm.",
        Where("scan", key="unit"),
        fix,
    )


def spoken_length(mm: float) -> str:
    """A length as people say it, far too long ones in metres."""
    return f"{mm:.4g} mm" if mm < 10_000.0 else f"{mm / 1000.0:.0f} m"


def only_unit(longest: float) -> str | None:
    """The one unit in which a length in Blender units is that of a head or a face; None where several fit."""
    fits = [key for key, mm in FIXED_MM.items() if SMALLEST_MM <= longest * mm <= LARGEST_MM]
    return fits[0] if len(fits) == 1 else None


def plausible_unit(longest_mm: float, unit: str, scene_mm: float = 1000.0) -> str | None:
    """The unit that brings a length into a head's range, nearest to 250 mm in ratio, or None."""
    units = longest_mm / FIXED_MM.get(unit, scene_mm)
    fits = {key: units * mm for key, mm in FIXED_MM.items() if SMALLEST_MM <= units * mm <= LARGEST_MM}
    return min(fits, key=lambda key: abs(math.log(fits[key] / 250.0)), default=None)
