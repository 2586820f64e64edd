"""Strap lugs: a bar between two fins that the webbing is threaded behind, and what it bears.

Lug frame: +Y upwards in the print (against the port's axis) and about the way the strap pulls, +Z level and
off the body, slot along X, origin on the wall. The fins grow out of the wall no flatter than 45 degrees and
the bar bridges between them, level and in one layer. Every edge is rounded, none is sharp to skin or webbing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..errors import Remark, Where
from ..limits import limit
from ..mesh import Floats
from ..settings import check_settings
from ..solids.boolean import Solid, union
from ..solids.primitives import cuboid
from ..solids.rounded import rounded_hull
from .allowance import Allowance, material_row
from .lug_wall import HEIGHTS_MM, NOTHING_MM, PLACES, LugWall, plane_wall
from .options import LugSizes

EDGE_MM = 1.5  # radius of all edges that webbing or skin may touch
BAR_BOTTOM_MM = 5.0  # height of the bar's underside in the lug frame: the origin lies amid the lug
WIDTH_SHARE = 0.9  # the bar measures less off the body than along the pull, which it resists
INSET_MM = 0.12  # the bar is a little thinner than the fins, so that no faces coincide
STRAP_PLAY_MM = 0.5  # off the bar; behind it lies the wall, which may bulge a little into the opening
ROOT_EDGE_MM = 0.6  # radius of edges inside the wall
MOST_LEAN_DEG = 35.0  # the bar leans with the wall up to this

_MEET_MM = 0.5  # points of a lug lie some millimetres apart, so that what lies between them is missed
_ROOT_MERIDIANS = 8  # inside the wall nobody sees them; sides and the edge at 45 degrees are met exactly
MERIDIANS = 16  # round an edge: its sides lie within 0.03 mm of the ball, a tenth of a printed line


@dataclass(frozen=True, kw_only=True)
class LugFacts:
    """Sizes of a lug and what it bears: units in the names, which are also the keys of the report."""

    lug_pull_n: float
    lug_slot_length_mm: float
    lug_slot_opening_mm: float
    lug_bar_height_mm: float
    lug_bar_width_mm: float
    lug_fin_thickness_mm: float
    lug_edge_radius_mm: float
    lug_off_body_mm: float
    lug_wall_lean_deg: float
    lug_bar_stress_mpa: float
    lug_fin_stress_mpa: float
    lug_strength_across_layers_mpa: float
    lug_safety_factor: float
    lug_bears_n: float
    lug_bridge_mm: float
    lug_height_in_print_mm: float


@dataclass(frozen=True)
class LugParts:
    """A lug in its own frame.

    Attributes
    ----------
    solid : to be united with the body.
    keep_clear : room for webbing and fingers.
    webbing : the strap behind the bar (for checks; not printed).
    facts, remarks : what it measures and bears, and what the maker should know.
    """

    solid: Solid
    keep_clear: Solid
    webbing: Solid
    facts: LugFacts
    remarks: tuple[Remark, ...]


@dataclass(frozen=True)
class _Plan:
    """Sizes of a lug, mm: fins half a span from the middle; the bar leans with the wall.

    ``inside`` and ``outside`` are its faces off the plane at its underside, ``lean`` their slope.
    """

    half: float
    thick: float
    bottom: float
    top: float
    inside: float
    outside: float
    lean: float
    sink: float


def make_lug(
    settings: LugSizes, allowance: Allowance, wall: LugWall | None = None, meridians: int = MERIDIANS
) -> LugParts:
    """Build one lug.

    Parameters
    ----------
    wall : the outer side of the body under it; by default a plane that stands upright in the print.
    meridians : points round each rounded edge; few are enough to look at.

    Raises
    ------
    BadRecipe : a value out of range.
    """
    check_settings(settings, "lug")
    wall = wall or plane_wall()
    plan = _planned(settings, allowance, wall)
    bar = [(x, y, z) for x in (-plan.half, plan.half) for y, *zs in _edges(plan) for z in zs]
    tips = _tips(plan, wall)
    fins = [_fin(plan, wall, side, tips, meridians) for side in (-1, 1)]
    solid = union("lug", *fins, rounded_hull(bar, EDGE_MM - INSET_MM, "lug bar", meridians))
    lowest, wide = min(tips), plan.half + 0.5 * plan.thick
    room = cuboid(
        (-wide - 1.0, lowest, plan.inside - plan.outside),
        (wide + 1.0, plan.top + 25.0, plan.outside + 8.0),
        "lug room",
    )
    facts = _facts(settings, allowance, plan, wall, lowest)
    return LugParts(solid, room, _webbing(settings, plan), facts, _remarks(facts, lowest))


def _webbing(settings: LugSizes, plan: _Plan) -> Solid:
    """The strap as it pulls: behind the bar and leaning with it, `STRAP_PLAY_MM` off it."""
    square = math.hypot(1.0, plan.lean)
    half, thick = 0.5 * settings.strap_width_mm, 0.5 * settings.strap_thickness_mm * square
    off = STRAP_PLAY_MM * square + thick
    shear = np.eye(4)
    shear[2, 1] = plan.lean
    shear[2, 3] = plan.inside - off - plan.lean * plan.bottom
    low, high = (-half, plan.bottom, -thick), (half, plan.top, thick)
    return cuboid(low, high, "strap").moved(shear)


def bar_middle(settings: LugSizes, allowance: Allowance, wall: LugWall | None = None) -> Floats:
    """Middle of the bar (3,) in the lug frame, mm: where the strap pulls."""
    plan = _planned(settings, allowance, wall or plane_wall())
    y, lean = 0.5 * (plan.bottom + plan.top), 0.5 * plan.lean * (plan.top - plan.bottom)
    return np.array([0.0, y, 0.5 * (plan.inside + plan.outside) + lean])


def lowest_tip(settings: LugSizes, allowance: Allowance, wall: LugWall) -> float:
    """Height in the lug frame, mm, at which the longer fin ends; the lowest when it never sinks in."""
    return min(_tips(_planned(settings, allowance, wall), wall))


@dataclass(frozen=True, eq=False)
class LugExtent:
    """The room of a lug and of the webbing in it, in its frame: a slab whose faces change with the height.

    Attributes
    ----------
    wide : half its width, mm.
    y, low, high : (k,) heights, and both faces there.
    """

    wide: float
    y: Floats
    low: Floats
    high: Floats

    def points(self) -> Floats:
        """Points (m, 3) on its sides and in its middle."""
        across = self.wide * np.array([-1.0, -0.8, 0.0, 0.8, 1.0])
        deep = np.linspace(0.0, 1.0, 5)
        z = self.low[:, None] + deep * (self.high - self.low)[:, None]
        x, y, z = np.broadcast_arrays(across[:, None, None], self.y[None, :, None], z[None])
        return np.stack([x, y, z], axis=-1).reshape(-1, 3)

    def entered_mm(self, points: Floats) -> float:
        """How far the points (n, 3), in its frame, are past its sides or nearly; 0 where none lies in it."""
        x, y, z = points.T
        inside = (y > self.y[0]) & (y < self.y[-1])
        inside &= (z > np.interp(y, self.y, self.low)) & (z < np.interp(y, self.y, self.high))
        return float((self.wide + _MEET_MM - np.abs(x[inside])).max(initial=0.0))


def lug_extent(settings: LugSizes, allowance: Allowance, wall: LugWall) -> LugExtent:
    """The room that a lug takes up on a wall."""
    plan = _planned(settings, allowance, wall)
    y = np.linspace(min(_tips(plan, wall)), plan.top, 16)
    reach = np.stack([wall.at(place, y) for place in (0, PLACES // 2, PLACES - 1)])
    low = np.where(reach > 0.01 * NOTHING_MM, reach, np.inf).min(axis=0)
    out = plan.outside + plan.lean * np.maximum(y - plan.bottom, 0.0)
    high = np.where(y < plan.bottom, np.minimum(_edge_z(plan, y), out), out)
    return LugExtent(plan.half + 0.5 * plan.thick, y, np.minimum(low, high), high)


def half_span(settings: LugSizes, allowance: Allowance) -> float:
    """Half the distance between the middles of the two fins, mm."""
    slot = settings.strap_width_mm + settings.slot_play_mm + 2.0 * allowance.coating_mm
    return 0.5 * (slot + settings.bar_mm)


def _planned(settings: LugSizes, allowance: Allowance, wall: LugWall) -> _Plan:
    """Lay out a lug so that behind its bar the webbing has its opening, square to the wall, everywhere."""
    bottom, top = BAR_BOTTOM_MM, BAR_BOTTOM_MM + settings.bar_mm
    heights = np.linspace(bottom, top, 5)
    lean = math.tan(math.radians(min(max(wall.lean_deg, 0.0), MOST_LEAN_DEG)))
    leaning = lean * (heights - bottom)
    behind = max(float((wall.at(place, heights) - leaning).max()) for place in range(1, PLACES - 1))
    inside = behind + _opening(settings) * math.hypot(1.0, lean)
    outside = inside + WIDTH_SHARE * settings.bar_mm
    half = half_span(settings, allowance)
    return _Plan(half, settings.bar_mm, bottom, top, inside, outside, lean, settings.sink_mm)


def _opening(settings: LugSizes) -> float:
    return settings.strap_thickness_mm + 2.0


def _edges(plan: _Plan) -> list[tuple[float, float, float]]:
    """Heights of the middles of the bar's lower and upper edges, and Z of its inner and outer ones there."""
    found = []
    for y in (plan.bottom + EDGE_MM, plan.top - EDGE_MM):
        out, square = plan.lean * (y - plan.bottom), EDGE_MM * math.hypot(1.0, plan.lean)
        found.append((y, plan.inside + out + square, plan.outside + out - square))
    return found


def _tips(plan: _Plan, wall: LugWall) -> list[float]:
    """Heights of the lower ends of both faces of both fins, left to right, mm."""
    return [_tip(plan, wall, place) for place in (0, 1, PLACES - 2, PLACES - 1)]


def _tip(plan: _Plan, wall: LugWall, place: int) -> float:
    """Height at which the fins' lower edge, 45 degrees from the vertical, has sunk into the wall, mm.

    Where it never does, the wall leans too far: the lowest tabulated height.
    """
    heights = np.arange(plan.bottom, HEIGHTS_MM[0], -0.25)
    there = wall.exists(place, heights)
    above = _edge_z(plan, heights) - (wall.at(place, heights) - plan.sink)
    sunk = there & (above <= 0.0)
    if not sunk.any():
        return HEIGHTS_MM[0]
    first = int(np.argmax(sunk))
    if first == 0 or not there[first - 1]:
        return float(heights[first])
    # Between two samples, so that walls that differ by rounding give fins that differ by no more.
    share = above[first - 1] / (above[first - 1] - above[first])
    return float(heights[first - 1] + share * (heights[first] - heights[first - 1]))


def _edge_z(plan: _Plan, y_mm: Floats) -> Floats:
    """Z of the middle of a small ball whose lower tangent plane at 45 degrees also touches the bar's edge."""
    shift = (EDGE_MM - ROOT_EDGE_MM) * math.sqrt(2.0)
    y, _, z = _edges(plan)[0]
    return z + (y_mm - y) + shift


def _fin(plan: _Plan, wall: LugWall, side: int, tips: list[float], meridians: int) -> Solid:
    """The fin at -X or +X: bar, lower edge at 45 degrees, root that follows the wall under both its faces."""
    ball, root = 0.5 * plan.thick - EDGE_MM, 0.5 * plan.thick - ROOT_EDGE_MM
    middle = side * plan.half
    centres = [(middle + dx, y, z) for dx in (-ball, ball) for y, _, z in _edges(plan)]
    radii, points = [EDGE_MM] * len(centres), [meridians] * len(centres)
    first = 0 if side < 0 else 2
    for number, dx in ((first, -root), (first + 1, root)):
        place = (0, 1, PLACES - 2, PLACES - 1)[number]
        tip, top = tips[number], plan.top - ROOT_EDGE_MM
        heights = [y for y in (tip, *HEIGHTS_MM, top) if tip <= y <= top and wall.exists(place, y)]
        depth = np.minimum(wall.at(place, np.array(heights)) - plan.sink, _edge_z(plan, np.array(heights)))
        centres += [(middle + dx, y, float(d)) for y, d in zip(heights, depth, strict=True)]
        radii += [ROOT_EDGE_MM] * len(heights)
        points += [min(meridians, _ROOT_MERIDIANS)] * len(heights)
    return rounded_hull(centres, radii, "lug fin", points)


def _facts(
    settings: LugSizes, allowance: Allowance, plan: _Plan, wall: LugWall, lowest_mm: float
) -> LugFacts:
    """Stress in bar and fins under the pull, by the beam formula.

    The bar is taken as simply supported between the fins under an even load (M = F L / 8, the safe side: its
    ends are in fact held). Each fin is a cantilever of the wall that carries half the pull at the middle of
    the bar; its depth along the pull grows at 45 degrees from the bar to the wall. Bending and shear of the
    fin are added (shear times the root of three, von Mises). The strength is the table's, times its factor
    for load across the layers, because the strap pulls up in the print.
    """
    row = material_row(allowance.material)
    strength = float(row["tensile_strength_mpa"]["value"]) * float(row["layer_adhesion_factor"]["value"])
    span, pull = 2.0 * plan.half, settings.pull_n
    bar = pull * span / 8.0 / bar_modulus(plan.top - plan.bottom, plan.outside - plan.inside)
    middle = 0.5 * (plan.inside + plan.outside)
    level = np.linspace(0.0, plan.inside, 9)  # nearer to the wall the fin is deeper
    depth = plan.top - plan.bottom + plan.outside - level
    bending = 0.5 * pull * (middle - level) * 6.0 / (plan.thick * depth**2)
    fin = float((bending + math.sqrt(3.0) * 0.5 * pull / (plan.thick * depth)).max())
    worst = max(bar, fin)
    return LugFacts(
        lug_pull_n=pull,
        lug_slot_length_mm=span - plan.thick,
        lug_slot_opening_mm=_opening(settings),
        lug_bar_height_mm=plan.top - plan.bottom,
        lug_bar_width_mm=plan.outside - plan.inside,
        lug_fin_thickness_mm=plan.thick,
        lug_edge_radius_mm=EDGE_MM - INSET_MM,
        lug_off_body_mm=plan.outside - float(wall.at(PLACES // 2, plan.bottom)),
        lug_wall_lean_deg=wall.lean_deg,
        lug_bar_stress_mpa=bar,
        lug_fin_stress_mpa=fin,
        lug_strength_across_layers_mpa=strength,
        lug_safety_factor=strength / worst,
        lug_bears_n=pull * strength / worst,
        lug_bridge_mm=span - plan.thick,
        lug_height_in_print_mm=plan.top - lowest_mm,
    )


def bar_modulus(height_mm: float, width_mm: float) -> float:
    """Section modulus, mm3, of the bar against bending along its height: a rectangle without its corners.

    A corner missing from a square of side r has the area (1 - pi / 4) r^2 and its centroid 0.2234 r from the
    corner (from (10 - 3 pi) / (12 - 3 pi) r, Steiner's term only: its own moment is under 1 % of it).
    """
    height, width, r = height_mm - 2.0 * INSET_MM, width_mm - 2.0 * INSET_MM, EDGE_MM - INSET_MM
    away = 0.5 * height - (10.0 - 3.0 * math.pi) / (12.0 - 3.0 * math.pi) * r
    inertia = width * height**3 / 12.0 - 4.0 * (1.0 - math.pi / 4.0) * r**2 * away**2
    return inertia / (0.5 * height)


def _remarks(facts: LugFacts, lowest_mm: float) -> tuple[Remark, ...]:
    out, bridge = [], facts.lug_bridge_mm
    if bridge > limit("lug_bridge").value:
        usual = limit("lug_bridge").value
        text = f"The bar of a lug bridges {bridge:.1f} mm printed level; {usual:.0f} mm is usual."
        out.append(Remark("warning", text, Where("lug", key="lug.strap_width_mm")))
    if lowest_mm <= HEIGHTS_MM[0]:
        text = (
            f"The wall under a lug leans {facts.lug_wall_lean_deg:.0f} degrees out over the bed: its fins "
            "hang over by more than 45 degrees. Move it round the body or along the wall."
        )
        out.append(Remark("warning", text, Where("lug", key="straps.up_the_wall_mm")))
    safe, least = limit("lug_safety").value, limit("lug_safety_least").value
    if facts.lug_safety_factor < safe:
        text = (
            f"A lug bears {facts.lug_bears_n:.0f} N by the beam formula, {facts.lug_safety_factor:.2f} "
            f"times the wanted {facts.lug_pull_n:.0f} N; {safe:g} times is wanted."
        )
        level = "risk" if facts.lug_safety_factor < least else "warning"
        out.append(Remark(level, text, Where("lug", key="lug.bar_mm")))
    return tuple(out)
