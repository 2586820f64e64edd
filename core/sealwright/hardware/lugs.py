"""Strap lugs: a rounded loop that the webbing is threaded through, and what it bears.

Lug frame: +Z along the outward normal of the body, +Y the way the strap pulls, slot parallel to X. The root
sinks below z = 0 for the union. Every edge is rounded to half the bar, so none is sharp to skin or webbing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..errors import Remark, Where
from ..mesh import Floats
from ..settings import check_settings
from ..solids.boolean import Solid, union
from ..solids.primitives import cuboid
from ..solids.rounded import rounded_hull
from .allowance import Allowance, material_row
from .options import LugSettings

BRIDGE_LIMIT_MM = 20.0  # longest bridge with cooling (secondary page on printing practice)
OVERHANG_DEG = 45.0
HEEL_MM = 0.7  # radius of the small balls at the lower end of the root
ARM_SHARE = 0.97  # arms a little thinner than bar and root, so that the balls at their ends do not coincide


@dataclass(frozen=True)
class LugParts:
    """A lug in its own frame.

    Attributes
    ----------
    solid : to be united with the body.
    keep_clear : room for webbing and fingers.
    footprint_mm : size of the root along X and Y.
    facts : numbers for the report, units in the keys.
    remarks : what the maker should know.
    """

    solid: Solid
    keep_clear: Solid
    footprint_mm: tuple[float, float]
    facts: dict[str, Any]
    remarks: tuple[Remark, ...]


def make_lug(
    settings: LugSettings,
    allowance: Allowance,
    fall_mm: tuple[float, float] = (0.0, 0.0),
    lean_deg: float = 0.0,
) -> LugParts:
    """Build one lug.

    Parameters
    ----------
    fall_mm : how far the body's surface lies below z = 0 under the arms at -X and +X; the root follows it.
    lean_deg : how far the outward normal points down when the body prints; arms and root then keep closer to
        the wall, so that they overhang 45 degrees at most. The bar bridges well only when X is level in the
        print.

    Raises
    ------
    BadRecipe : a value out of range.
    """
    check_settings(settings, "lug")
    settings = _leaning(settings, lean_deg)
    radius = 0.5 * settings.bar_mm
    half, tip = _half_span(settings, allowance), _tip(settings)
    ends = [(-half, radius - settings.sink_mm - fall_mm[0]), (half, radius - settings.sink_mm - fall_mm[1])]
    heel = _heel(settings)
    root = [(x, y, z) for x, z in ends for y in (-settings.base_length_mm, 0.0)]
    root += [(x, -settings.base_length_mm - heel, z - radius + HEEL_MM) for x, z in ends]
    parts = [
        rounded_hull(root, [radius] * 4 + [HEEL_MM] * 2, "lug root"),
        rounded_hull([(x, *tip) for x, _ in ends], radius, "lug bar"),
    ]
    parts += [rounded_hull([(x, 0.0, z), (x, *tip)], ARM_SHARE * radius, "lug arm") for x, z in ends]
    wide = half + radius + 1.0
    room = cuboid(
        (-wide, -settings.base_length_mm - heel, 0.0),
        (wide, tip[0] + 25.0, tip[1] + radius + 8.0),
        "lug room",
    )
    facts = lug_facts(settings, allowance)
    footprint = (2.0 * (half + radius), settings.base_length_mm + heel + radius + HEEL_MM)
    return LugParts(union("lug", *parts), room, footprint, facts, _remarks(facts))


def bar_middle(settings: LugSettings, lean_deg: float = 0.0) -> Floats:
    """Middle of the bar (3,) in the lug frame, mm: where the strap pulls."""
    return np.array([0.0, *_tip(_leaning(settings, lean_deg))])


def _leaning(settings: LugSettings, lean_deg: float) -> LugSettings:
    """The settings with arms and heel no further off a leaning wall than the overhang limit allows.

    The arms rise at least 8 degrees, which leaves room for the webbing on a wall that curves away.
    """
    limit = OVERHANG_DEG - lean_deg
    rise = min(settings.rise_deg, max(limit, 8.0))
    return replace(settings, rise_deg=rise, under_deg=min(settings.under_deg, max(limit, 20.0)))


def _heel(settings: LugSettings) -> float:
    """How far the root's lower end reaches back to come out of the wall at its slope, mm.

    The slope is the common tangent of the ball at the root's end and of a small ball sunk as deep.
    """
    slope, step = math.radians(settings.under_deg), 0.5 * settings.bar_mm - HEEL_MM
    return step * (1.0 + math.cos(slope)) / math.sin(slope)


def _half_span(settings: LugSettings, allowance: Allowance) -> float:
    """Half the distance between the middles of the two arms, mm."""
    slot = settings.strap_width_mm + settings.slot_play_mm + 2.0 * allowance.coating_mm
    return 0.5 * (slot + settings.bar_mm)


def _tip(settings: LugSettings) -> Floats:
    """Y and Z of the middle of the bar, mm: the slot takes the webbing and room to thread it."""
    slot = settings.strap_thickness_mm + 2.0
    reach = slot + settings.bar_mm
    rise = math.radians(settings.rise_deg)
    start = 0.5 * settings.bar_mm - settings.sink_mm
    return np.array([reach * math.cos(rise), start + reach * math.sin(rise)])


def lug_facts(settings: LugSettings, allowance: Allowance) -> dict[str, Any]:
    """Stress in bar and arms under the pull, by the beam formula.

    The bar is taken as simply supported between the arms under an even load (M = F L / 8, the safe side: its
    ends are in fact held), the two arms as cantilevers of the root carrying half the pull each at the height
    of the bar. Section modulus of a round bar pi d^3 / 32. The strength is the table's, times its factor for
    load across the layers, because the lug may lie any way in the print.
    """
    row = material_row(allowance.material)
    strength = float(row["tensile_strength_mpa"]["value"]) * float(row["layer_adhesion_factor"]["value"])
    diameter, span = settings.bar_mm, 2.0 * _half_span(settings, allowance)
    modulus, area = math.pi * diameter**3 / 32.0, 0.25 * math.pi * diameter**2
    tip = _tip(settings)
    lever = float(tip[1] - (0.5 * settings.bar_mm - settings.sink_mm))
    bar = settings.pull_n * span / 8.0 / modulus
    arm = 0.5 * settings.pull_n * (lever / (modulus * ARM_SHARE**3) + 1.0 / (area * ARM_SHARE**2))
    worst = max(bar, arm)
    return {
        "lug_pull_n": settings.pull_n,
        "lug_slot_length_mm": span - diameter,
        "lug_slot_opening_mm": settings.strap_thickness_mm + 2.0,
        "lug_bar_diameter_mm": diameter,
        "lug_edge_radius_mm": 0.5 * diameter,
        "lug_height_mm": float(tip[1]) + 0.5 * diameter,
        "lug_bar_stress_mpa": bar,
        "lug_arm_stress_mpa": arm,
        "lug_strength_across_layers_mpa": strength,
        "lug_safety_factor": strength / worst,
        "lug_bears_n": settings.pull_n * strength / worst,
        "lug_bridge_mm": span - diameter,
        "lug_rise_deg": settings.rise_deg,
        "lug_gap_under_bar_mm": float(tip[1]) - 0.5 * diameter,
    }


def _remarks(facts: dict[str, Any]) -> tuple[Remark, ...]:
    out, bridge = [], facts["lug_bridge_mm"]
    if bridge > BRIDGE_LIMIT_MM:
        text = f"The bar of a lug bridges {bridge:.1f} mm printed level; {BRIDGE_LIMIT_MM:.0f} mm is usual."
        out.append(Remark("warning", text, Where("lug", key="lug.strap_width_mm")))
    if facts["lug_safety_factor"] >= 1.5:
        return tuple(out)
    return (
        *out,
        Remark(
            "risk" if facts["lug_safety_factor"] < 1.0 else "warning",
            f"A lug bears {facts['lug_bears_n']:.0f} N by the beam formula, "
            f"{facts['lug_safety_factor']:.2f} times the "
            f"wanted {facts['lug_pull_n']:.0f} N; 1.5 times is wanted.",
            Where("lug", key="lug.bar_mm"),
        ),
    )
