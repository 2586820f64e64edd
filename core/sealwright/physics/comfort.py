"""How a mask feels after hours: pressures, edges, area, and advice on hours with what is weak in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from ..mesh import Bools, Floats
from ..settings import check_settings, quantity
from ..values import require_range
from .contact import solve_contact
from .contact_result import CAPILLARY_KPA, ContactResult, ContactSettings
from .loop import Loop, loop_of, narrowed
from .patch import REGIONS, ContactPatch, StrapPull
from .weaknesses import weaknesses

KPA_PER_MMHG = 0.133322


@dataclass(frozen=True)
class ComfortSettings:
    """How pressure is turned into hours."""

    pressure_hours_mmhg_h: float = quantity(
        300.0,
        "mmHg h",
        50.0,
        600.0,
        "Pressure times hours that tissue bears (Reswick and Rogers 1976, from memory).",
    )
    caution: float = quantity(
        0.5,
        "1",
        0.1,
        1.0,
        "Part of that time which is advised, because the rule is not from faces; our choice.",
    )
    longest_h: float = quantity(
        24.0, "h", 0.5, 24.0, "Time beyond which nothing is told: no rule reaches farther than a day."
    )
    edge_mm: float = quantity(
        2.0, "mm", 0.5, 10.0, "Width of the outermost strip on each side that counts as edge."
    )


@dataclass(frozen=True)
class Comfort:
    """How a mask presses.

    Attributes
    ----------
    peak_kpa, mean_kpa : highest pressure and mean over the touching area.
    high_kpa : pressure that 95 % of the touching area stay below, less moved by one bad point than the peak.
    edge_kpa : mean pressure over the touching part of the edge strips.
    edge_ratio : that over the mean; well above 1 is a cutting edge.
    contact_cm2 : touching area.
    over_capillary : share of the touching area above 4.27 kPa.
    region_peak_kpa : highest pressure by region name, regions without points left out.
    advised_h : hours without a break.
    text : the advice in one sentence.
    weakness : what is weak in it, to be shown with it.
    """

    peak_kpa: float
    mean_kpa: float
    high_kpa: float
    edge_kpa: float
    edge_ratio: float
    contact_cm2: float
    over_capillary: float
    region_peak_kpa: dict[str, float]
    advised_h: float
    text: str
    weakness: tuple[str, ...] = field(default_factory=lambda: weaknesses("comfort"))


@dataclass(frozen=True)
class BandComparison:
    """A narrow hard edge beside the wide band, on the same face under the same straps.

    Attributes
    ----------
    narrow, wide : both in full.
    narrow_mm : width of the narrow edge.
    peak_ratio, mean_ratio, area_ratio : narrow over wide.
    narrow_closed : share of the seal line that the narrow edge touches.
    """

    narrow: Comfort
    wide: Comfort
    narrow_mm: float
    peak_ratio: float
    mean_ratio: float
    area_ratio: float
    narrow_closed: float


def advised_hours(pressure_kpa: float, settings: ComfortSettings | None = None) -> float:
    """Hours without a break that can be advised at a pressure; `weaknesses` says what is weak in it.

    A part of (pressure times hours = constant), never longer than a set time.

    Raises
    ------
    BadRecipe : a value out of range.
    """
    chosen = settings or ComfortSettings()
    check_settings(chosen, "comfort")
    pressure = require_range(pressure_kpa, 0.0, 1000.0, "kPa", "pressure_kpa") / KPA_PER_MMHG
    if pressure <= 0.0:
        return chosen.longest_h
    return min(chosen.longest_h, chosen.caution * chosen.pressure_hours_mmhg_h / pressure)


def comfort_of(
    patch: ContactPatch, result: ContactResult, settings: ComfortSettings | None = None
) -> Comfort:
    """Pressures, edge, area and advice of a solved contact.

    Raises
    ------
    BadRecipe : a setting out of range.
    """
    chosen = settings or ComfortSettings()
    check_settings(chosen, "comfort")
    pressure = result.pressure_kpa
    touching = pressure > 0.0
    area = patch.areas[touching]
    total = float(area.sum())
    edge = edge_points(patch, loop_of(patch), chosen.edge_mm) & touching
    edge_area = float(patch.areas[edge].sum())
    edge_kpa = float(patch.areas[edge] @ pressure[edge]) / edge_area if edge_area > 0.0 else 0.0
    over = float(area[pressure[touching] > CAPILLARY_KPA].sum()) / total if total > 0.0 else 0.0
    high = area_quantile(pressure[touching], area, 0.95)
    hours = advised_hours(high, chosen)
    peaks = {
        name: float(pressure[patch.region == code].max())
        for code, name in enumerate(REGIONS)
        if (patch.region == code).any()
    }
    return Comfort(
        result.peak_kpa,
        result.mean_kpa,
        high,
        edge_kpa,
        edge_kpa / result.mean_kpa if result.mean_kpa > 0.0 else 0.0,
        total / 100.0,
        over,
        peaks,
        hours,
        _advice(hours, high, over),
    )


def edge_points(patch: ContactPatch, loop: Loop, edge_mm: float) -> Bools:
    """Points (n,) within a strip at the inner or outer end of their station."""
    highest = loop.per_station(np.maximum, patch.across_mm)[patch.station]
    lowest = loop.per_station(np.minimum, patch.across_mm)[patch.station]
    return np.asarray((patch.across_mm >= highest - edge_mm) | (patch.across_mm <= lowest + edge_mm))


def area_quantile(values: Floats, areas: Floats, share: float) -> float:
    """Value that a share of the area stays at or below; 0 where there is no area."""
    if len(values) == 0:
        return 0.0
    order = np.argsort(values, kind="stable")
    filled = np.cumsum(areas[order])
    index = int(np.searchsorted(filled, share * filled[-1] * (1.0 - 1e-12)))
    return float(values[order[min(index, len(order) - 1)]])


def _advice(hours: float, high: float, over: float) -> str:
    if over > 0.0:
        return (
            f"{100 * over:.0f} % of the touching skin is pressed above {CAPILLARY_KPA} kPa (32 mmHg): take "
            f"the mask "
            f"off after about {hours:.1f} h and look at the skin; better, widen the band or ease that place."
        )
    return (
        f"No skin is pressed above {CAPILLARY_KPA} kPa; nearly all of it stays below {high:.1f} kPa. Take a "
        f"break "
        f"after about {hours:.1f} h."
    )


def compare_bands(
    patch: ContactPatch,
    pulls: Sequence[StrapPull],
    narrow_mm: float = 3.0,
    contact: ContactSettings | None = None,
    settings: ComfortSettings | None = None,
) -> BandComparison:
    """The wide band as designed beside a narrow hard edge on the same seal line, face and straps.

    The narrow edge has no soft layer difference: only the width changes.

    Raises
    ------
    BadRecipe : a value out of range.
    DoesNotFit : the strip holds no points.
    NotConverged : a mask that finds no balance.
    """
    thin = narrowed(patch, narrow_mm)
    hard, soft = solve_contact(thin, pulls, contact), solve_contact(patch, pulls, contact)
    narrow, wide = comfort_of(thin, hard, settings), comfort_of(patch, soft, settings)
    return BandComparison(
        narrow,
        wide,
        float(narrow_mm),
        narrow.peak_kpa / wide.peak_kpa,
        narrow.mean_kpa / wide.mean_kpa,
        narrow.contact_cm2 / wide.contact_cm2,
        hard.share_closed,
    )
