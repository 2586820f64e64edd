"""Sizes, strength and mass of a holder, and what the maker should know of them."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..errors import Remark, Where
from ..limits import limit
from ..solids.boolean import Solid
from . import grid
from .allowance import Allowance, material_row
from .filter_area import FilterFacts
from .holder_layout import HolderLayout
from .options import HolderSettings
from .retainer import SnapFacts

THUMB_N = 20.0  # force of a thumb on the grid (common practice, no source)
CROSSING_BEAMS = 4  # spokes that cross the open middle side by side and share the thumb


@dataclass(frozen=True, kw_only=True)
class HolderSizes:
    """Sizes, strength and mass of a holder: units in the names, which are also the keys of the report."""

    holder_shape: str
    medium_length_mm: float
    medium_width_mm: float
    seat_open_area_mm2: float
    grid_open_share: float
    grid_largest_opening_mm: float
    grid_thumb_force_n: float
    grid_stress_mpa: float
    grid_safety_factor: float
    air_passage_mm2: float
    holder_height_mm: float
    holder_solid_volume_mm3: float
    holder_mass_solid_g: float
    cap_outer_diameter_mm: float
    thread_engaged_turns: float
    holder_print_pose: str = "grid on the bed, thread up; no supports"


@dataclass(frozen=True, kw_only=True)
class EdgeFacts:
    """How the medium is held and what is cut out for the pre-filter; None where there is no such thing."""

    edge_seal: str
    prefilter_inset_mm: float | None
    prefilter_thickness_mm: float | None
    medium_squeeze_mm: float | None
    medium_ridge_mm: float | None
    glue_volume_mm3: float | None


@dataclass(frozen=True, kw_only=True)
class HolderFacts:
    """What is known of a finished holder.

    Attributes
    ----------
    sizes : of the holder itself.
    allowance : what its mating parts were given.
    medium : the filter medium in it.
    edge : how the edge of the medium is held.
    holder_air_mm3 : air between the medium and the port's face.
    snap : how a snapped frame holds, None without one.
    """

    sizes: HolderSizes
    allowance: Allowance
    medium: FilterFacts
    edge: EdgeFacts
    holder_air_mm3: float
    snap: SnapFacts | None


def section_mm2(solid: Solid, z_mm: float) -> float:
    """Area of a level section of a solid, mm2."""
    return float(solid.native.slice(z_mm).area())


def air_passage_mm2(settings: HolderSettings, plan: HolderLayout) -> float:
    """The narrowest place on the way of the air through a holder, mm2.

    Looked at are the bore, and the channels at its edge and where their number changes. Through the channels
    at a radius comes only the air of the medium beyond it, so they count as so much wider.
    """
    bore, seat = plan.bore_radius, plan.seat.area_mm2(settings.land_mm)
    passages = [math.pi * bore**2]
    for tier in plan.rings:
        radius = max(tier.inner_mm, bore)
        if radius < tier.outer_mm:
            free = grid.channel_area_mm2(tier, settings, plan.roof, radius)
            passages.append(free / (1.0 - math.pi * radius**2 / seat))
    return min(passages)


def holder_sizes(
    settings: HolderSettings, plan: HolderLayout, body: Solid, air: Solid, allowance: Allowance
) -> HolderSizes:
    """Sizes, open-area share, strength of the grid and air passage of a holder.

    Parameters
    ----------
    body, air : the holder and its air space from grid to roof, in the print frame.
    """
    area = plan.seat.area_mm2(settings.land_mm)
    row = material_row(allowance.material)
    span = 2.0 * plan.bore_radius
    stress = grid.spoke_stress_mpa(settings, span, CROSSING_BEAMS, THUMB_N)
    return HolderSizes(
        holder_shape=settings.shape,
        medium_length_mm=plan.seat.length_mm,
        medium_width_mm=plan.seat.width_mm,
        seat_open_area_mm2=area,
        grid_open_share=section_mm2(air, 0.5 * settings.grid_mm) / area,
        grid_largest_opening_mm=settings.opening_mm,
        grid_thumb_force_n=THUMB_N,
        grid_stress_mpa=stress,
        grid_safety_factor=float(row["tensile_strength_mpa"]["value"]) / stress,
        air_passage_mm2=air_passage_mm2(settings, plan),
        holder_height_mm=plan.top,
        holder_solid_volume_mm3=body.volume,
        holder_mass_solid_g=body.volume * 1e-3 * float(row["density_g_cm3"]["value"]),
        cap_outer_diameter_mm=2.0 * plan.skirt_radius,
        thread_engaged_turns=plan.engaged_turns,
    )


def holder_remarks(sizes: HolderSizes) -> tuple[Remark, ...]:
    """What the maker should know of a holder's sizes."""
    out = []
    if sizes.grid_safety_factor < limit("grid_safety").value:
        out.append(
            Remark(
                "warning",
                f"A thumb of {THUMB_N:.0f} N in the middle of the grid gives "
                f"{sizes.grid_stress_mpa:.0f} MPa; "
                f"{limit('grid_safety').value:g} times the margin is wanted.",
                Where("holder", key="holder.grid_mm"),
            )
        )
    if sizes.holder_mass_solid_g > limit("holder_mass").value:
        out.append(
            Remark(
                "warning",
                f"The holder weighs up to {sizes.holder_mass_solid_g:.0f} g; a half mask carries "
                f"{limit('holder_mass').value:g} g at most ({limit('holder_mass').source}).",
                Where("holder"),
            )
        )
    return tuple(out)
