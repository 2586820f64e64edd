"""How a body lies on the face: gap along the seal line, width of contact, clearance, entry into the face."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..face.scanned import SkinNear, skin_near
from ..face.stand_off import StandOff
from ..face.surface import FaceSurface
from ..facepiece.contact_band import ContactBand
from ..facepiece.seal_line import SealLine
from ..limits import limit
from ..mesh import Bools, Floats, TriMesh, at_any_corner
from ..solids.distance import MeshDistance

_SURE_MM, _LOW_MM = 1.0, 4.0  # what is within the first of the skin is within the second along the rays


@dataclass(frozen=True, kw_only=True)
class ContactFacts:
    """How a body lies on the skin, in a few numbers.

    Attributes
    ----------
    touch_mm : deviation up to which a place is in contact: the limit plus the bound of the smoothing.
    cushion_reach_mm : how much further or nearer a place may be, because a seated cushion springs out by that
        much and yields by as much again; 0 without one.
    gap_min_mm, gap_p5_mm, gap_median_mm, gap_p95_mm, gap_max_mm : of the gap on the seal line, less the
        wanted one.
    contact_share : share of the seal line in contact.
    band_width_min_mm, band_width_mean_mm : unbroken width in contact.
    """

    touch_mm: float
    cushion_reach_mm: float
    gap_min_mm: float
    gap_p5_mm: float
    gap_median_mm: float
    gap_p95_mm: float
    gap_max_mm: float
    contact_share: float
    band_width_min_mm: float
    band_width_mean_mm: float

    @property
    def largest_deviation_mm(self) -> float:
        """Largest deviation from the wanted gap, to either side."""
        return max(abs(self.gap_min_mm), abs(self.gap_max_mm))


@dataclass(frozen=True, eq=False, kw_only=True)
class FitCheck:
    """Measurements of contact, all in mm.

    Attributes
    ----------
    places : (n, k, 3) skin points of the band's contact rows.
    gap : (n, k) distance from these to the body, less the wanted stand-off; positive is open.
    seal_gap : (n,) the same on the seal line itself.
    width : (n,) continuous width in contact round the seal line.
    across : (k,) distance of the rows from the seal line.
    touch_mm : what counts as touching: the limit of touch plus the bound of the smoothing.
    reach_mm : how far a seated cushion springs out.
    """

    places: Floats
    gap: Floats
    seal_gap: Floats
    width: Floats
    across: Floats
    touch_mm: float
    reach_mm: float = 0.0

    @property
    def in_contact(self) -> Bools:
        """Stations (n,) whose seal line is in contact."""
        return _touching(self.seal_gap, self.touch_mm, self.reach_mm)

    @cached_property
    def facts(self) -> ContactFacts:
        """The same in a few numbers."""
        p5, p50, p95 = np.percentile(self.seal_gap, [5, 50, 95])
        return ContactFacts(
            touch_mm=self.touch_mm,
            cushion_reach_mm=self.reach_mm,
            gap_min_mm=float(self.seal_gap.min()),
            gap_p5_mm=float(p5),
            gap_median_mm=float(p50),
            gap_p95_mm=float(p95),
            gap_max_mm=float(self.seal_gap.max()),
            contact_share=float(self.in_contact.mean()),
            band_width_min_mm=float(self.width.min()),
            band_width_mean_mm=float(self.width.mean()),
        )


def check_fit(
    face: FaceSurface,
    line: SealLine,
    band: ContactBand,
    body: TriMesh,
    skin: SkinNear | None = None,
    reach_mm: float = 0.0,
) -> FitCheck:
    """Measure the contact of a finished body against the scan; where it has holes, against the guessed skin.

    Parameters
    ----------
    face, line, band : what the body was designed on.
    body : the finished body, face frame, mm.
    skin : the skin near the band; None looks for it.
    reach_mm : how far the cushion springs out where the hard body is further away than wanted, as over the
        bottom of a crease that is tighter than the cushion is thick.
    """
    rows = band.grid[:, band.contact]
    across = band.across_mm[band.contact]
    to_skin = (skin or skin_near(face, rows.reshape(-1, 3))).distance
    touch = limit("touch").value + face.smoothing.bound_mm
    places = to_skin.closest(rows.reshape(-1, 3))[2].reshape(rows.shape)
    wanted = np.concatenate([places.reshape(-1, 3), to_skin.closest(line.points)[2]])
    apart = _distance_from(body, face, wanted) - np.abs(band.stand_off.at_points(face.chart, wanted))
    gap, seal_gap = apart[: len(rows) * rows.shape[1]].reshape(rows.shape[:2]), apart[-len(line.points) :]
    touching = _touching(gap, touch, reach_mm)
    middle = int(np.argmin(np.abs(across)))
    share = np.ones((len(rows), 2)) if line.room is None else line.room
    inside = _run_length(touching[:, middle:], np.abs(across[middle:] - across[middle]))
    outside = _run_length(touching[:, middle::-1], np.abs(across[middle::-1] - across[middle]))
    width = outside * share[:, 0] + inside * share[:, 1]
    return FitCheck(
        places=places,
        gap=gap,
        seal_gap=seal_gap,
        width=width,
        across=across,
        touch_mm=touch,
        reach_mm=reach_mm,
    )


def _touching(gap: Floats, touch_mm: float, reach_mm: float) -> Bools:
    """Where the body, or the cushion that springs out by a reach or yields by as much more, fits the skin."""
    return np.asarray(np.abs(gap) <= touch_mm + reach_mm)


def _distance_from(body: TriMesh, face: FaceSurface, places: Floats) -> Floats:
    """Distances (n,) in mm of places on the skin (n, 3) from a body, most of which is far from the skin.

    The part of it near the skin has the nearest point wherever that is closer than a millimetre.
    """
    low = at_any_corner(face.height_of(body.vertices) < _LOW_MM, body.faces)
    if not low.any():
        return MeshDistance(body).to(places)
    distance = MeshDistance(body.submesh(low)).to(places)
    far = distance > _SURE_MM
    if far.any():
        distance[far] = MeshDistance(body).to(places[far])
    return distance


def _run_length(touching: Bools, distance: Floats) -> Floats:
    """How far (n,) rows keep touching from the first on, mm."""
    unbroken = np.logical_and.accumulate(touching, axis=1)
    last = unbroken.sum(axis=1) - 1
    return np.where(last >= 0, distance[np.maximum(last, 0)], 0.0)


@dataclass(frozen=True)
class EntryCheck:
    """Whether any part of the body enters the face.

    Attributes
    ----------
    deepest_mm : how far the deepest vertex lies inside the skin (0 when none does).
    point : where.
    """

    deepest_mm: float
    point: tuple[float, float, float]


def check_entry(
    face: FaceSurface, body: TriMesh, stand_off: StandOff, skin: SkinNear | None = None
) -> EntryCheck:
    """How deep the body's vertices lie inside the skin, measured square to the skin.

    Parameters
    ----------
    face : the face surface.
    body : the finished body, face frame, mm.
    stand_off : negative stand-off is wanted entry and is allowed for.
    skin : the skin wherever the body may enter it; None looks for it.
    """
    pq, radius = face.chart.place_of(body.vertices)
    height = radius - face.radius_at(pq)
    over_skin = face.is_known(pq)
    suspects = np.flatnonzero((height < -1e-3) & over_skin)
    if len(suspects) == 0:
        x, y, z = body.vertices[int(np.argmin(np.where(over_skin, height, np.inf)))]
        return EntryCheck(0.0, (float(x), float(y), float(z)))
    skin = skin or skin_near(face, body.vertices[suspects])
    allowed = np.minimum(stand_off.at(face.chart, pq[suspects]), 0.0)
    depth = skin.depth_of(body.vertices[suspects], -height[suspects]) + allowed
    worst = int(np.argmax(depth))
    x, y, z = body.vertices[suspects[worst]]
    return EntryCheck(max(float(depth[worst]), 0.0), (float(x), float(y), float(z)))
