"""Where a print would need supports: islands that start in the air, bridges, ledges, overhanging faces.

The overhang limit and the ledge rule speak of the same thing. A ledge is one step out that the next layers do
not repeat: its outer line is held by its neighbour and cools before anything stands on it. Where layer after
layer steps out, every line stands on one that droops already, and the slope limit counts: what each ledge
reaches beyond that limit is added up from layer to layer, and the sum may not exceed what a single ledge may
have. Thinner layers therefore allow no steeper slope.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from ..mesh import Floats, TriMesh
from .printer import PrinterSettings
from .slices import Layer, outline_edges
from .spans import bridge_span, held_edges, ledge_reach

if TYPE_CHECKING:
    from manifold3d import CrossSection

_SLACK_MM = 0.05  # outlines of neighbouring layers agree no better; far under a line width
_SLACK_SHARE = 0.25  # of the reach: thin layers agree better, and may step out no further for being thin
_DOT_SHARE = (
    0.1  # of a line's square: corners of roofs at the limit reach out further, in dots less than that
)
_MEET_MM = 0.02  # ledges that stand on each other lie apart by the reach; outlines are smoothed by 0.005 mm
_ON_BED_MM = 0.02
_SLACK_DEG = 0.1  # facets of a cone made at the limit lie a little to both sides of it


@dataclass(frozen=True)
class Unsupported:
    """A region of a layer that rests on nothing.

    Attributes
    ----------
    kind : "island" (starts in the air), "bridge" (held on both sides) or "ledge" (held on one side).
    layer : number of the layer, from 1.
    point_mm : a point of it above the bed, in bed coordinates.
    area_mm2 : its area beyond the support-free reach.
    span_mm : bridge: length between its supports; ledge: reach beyond the layer below; island: 0.
    excess_mm : ledge: reach beyond what the overhang limit allows, with that of the ledges it stands on.
    """

    kind: str
    layer: int
    point_mm: tuple[float, float, float]
    area_mm2: float
    span_mm: float
    excess_mm: float = 0.0

    def needs_support(self, printer: PrinterSettings) -> bool:
        """Whether it fails without supports."""
        if self.kind == "bridge":
            return self.span_mm > printer.bridge_limit_mm
        return self.kind == "island" or self.falls(ledge_limit(printer), printer.reach_mm)

    def falls(self, ledge_mm: float, reach_mm: float) -> bool:
        """Whether a ledge reaches too far, by itself or with those it stands on.

        Parameters
        ----------
        ledge_mm : how far a single ledge may reach over the layer below.
        reach_mm : how far every layer may, by the overhang limit.
        """
        too_far = self.span_mm > ledge_mm or self.excess_mm > ledge_mm - reach_mm
        return self.kind == "ledge" and too_far

    def is_clean(self, printer: PrinterSettings) -> bool:
        """Whether it comes out as designed."""
        return self.kind == "bridge" and self.span_mm <= printer.bridge_mm


def ledge_limit(printer: PrinterSettings) -> float:
    """How far a layer may reach over the one below, mm: never less than the overhang limit allows."""
    return max(printer.ledge_mm, printer.reach_mm + 2.0 * _SLACK_MM)


def unsupported_regions(
    layers: Sequence[Layer],
    printer: PrinterSettings,
    reach_mm: float | None = None,
    ledge_mm: float | None = None,
) -> list[Unsupported]:
    """All unsupported regions, layer by layer.

    A layer is held where it lies on the layer below grown by the support-free reach, which is layer
    height times the tangent of the overhang limit.

    Parameters
    ----------
    layers : from the bed up.
    reach_mm : the support-free reach; by default that of the printer's layer height.
    ledge_mm : regions that reach less far over the layer below are ledges without a closer look; by
        default the printer's ledge limit.
    """
    import manifold3d

    ledge = ledge_limit(printer) if ledge_mm is None else ledge_mm
    reach = printer.reach_mm if reach_mm is None else reach_mm
    grow = reach + min(_SLACK_MM, _SLACK_SHARE * reach)
    found: list[Unsupported] = []
    ledges: list[tuple[CrossSection, float]] = []  # of the layer below: region and excess
    for below, layer in pairwise(layers):
        held = below.section.offset(grow, manifold3d.JoinType.Round, 2.0, 24)
        hanging = layer.section - held
        under, ledges = ledges, []
        if hanging.is_empty():
            continue
        outline = outline_edges(layer.section)
        for region in hanging.decompose():
            one = _classified(region, outline, layer, grow, ledge, printer.line_mm)
            if one.kind == "ledge" and one.area_mm2 > _DOT_SHARE * printer.line_mm**2:
                near = region.offset(grow + _MEET_MM, manifold3d.JoinType.Round, 2.0, 24)
                stands_on = [excess for other, excess in under if not (near ^ other).is_empty()]
                one = replace(one, excess_mm=one.span_mm - reach + max(stands_on, default=0.0))
                ledges.append((region, one.excess_mm))
            found.append(one)
    return found


def _classified(
    region: CrossSection, outline: Floats, layer: Layer, grow: float, ledge_mm: float, line_mm: float
) -> Unsupported:
    edges = outline_edges(region)
    held = held_edges(edges, outline)
    area = float(region.area())
    kind, span = "island", 0.0
    if held.any():
        kind, span = "ledge", ledge_reach(edges, held) + grow
        # A region with free borders that reach out only a little is a ledge whichever way lines run.
        if held.all() or span > ledge_mm:
            bridged = bridge_span(edges, held, line_mm)
            if bridged is not None:
                kind, span = "bridge", bridged + 2.0 * grow
    middle = edges[:, 0].mean(axis=0)
    # The middle of a bent region may lie outside it; the nearest corner does not.
    x, y = edges[np.argmin(np.linalg.norm(edges[:, 0] - middle, axis=1)), 0]
    return Unsupported(kind, layer.number, (float(x), float(y), layer.bottom_mm), area, span)


def overhang_area(mesh: TriMesh, limit_deg: float) -> float:
    """Area of faces steeper than the limit, mm2, for a part that stands on z = 0.

    A face is unsupported when the angle of its overhang from the vertical passes the limit, that is
    n_z < -sin(limit): at 45 degrees n_z < -0.70711. Faces on the bed do not count.
    """
    steep = mesh.face_normals[:, 2] < -np.sin(np.radians(min(limit_deg + _SLACK_DEG, 90.0)))
    lowest = mesh.bounds[0, 2]
    in_air = mesh.corners[:, :, 2].max(axis=1) > lowest + _ON_BED_MM
    return float(mesh.face_areas[steep & in_air].sum())
