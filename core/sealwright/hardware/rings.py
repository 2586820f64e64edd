"""O-rings in static face glands: sizes, squeeze, fill and stretch, and a ring proposed for a face."""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..errors import BadRecipe, DoesNotFit, Remark, Where
from ..tables import table

STRETCH = 0.01  # the gland is 1 % larger than the ring inside, mid of the usual 0 to 2 % under suction
LAND_MM = 1.2  # smallest wall beside a printed gland: three 0.4 mm lines


@dataclass(frozen=True)
class ORing:
    """An O-ring size; ``confidence`` is V, C or M as explained in the rings table."""

    size: str
    inside_mm: float
    section_mm: float
    confidence: str

    @property
    def outside_mm(self) -> float:
        """Outer diameter, free."""
        return self.inside_mm + 2.0 * self.section_mm


@dataclass(frozen=True)
class FaceGland:
    """A rectangular groove in a face for a ring, sealed by a flat counterpart that rests on the face.

    Attributes
    ----------
    inside_mm : diameter of the inner wall, which the ring lies on.
    width_mm, depth_mm : radial width and axial depth.
    """

    ring: ORing
    inside_mm: float
    width_mm: float
    depth_mm: float

    @property
    def outside_mm(self) -> float:
        """Diameter of the outer wall."""
        return self.inside_mm + 2.0 * self.width_mm

    @property
    def stretch(self) -> float:
        """Stretch of the ring over the inner wall, share."""
        return ring_stretch(self.inside_mm, self.ring.inside_mm)

    @property
    def section_mm(self) -> float:
        """Section of the ring as stretched."""
        return stretched_section_mm(self.ring.section_mm, max(self.stretch, 0.0))

    @property
    def squeeze(self) -> float:
        """Axial squeeze of the free section, share."""
        return ring_squeeze(self.ring.section_mm, self.depth_mm)

    @property
    def fill(self) -> float:
        """Share of the gland the free section fills."""
        return gland_fill(self.ring.section_mm, self.depth_mm, self.width_mm)


def ring_squeeze(section_mm: float, depth_mm: float) -> float:
    """Squeeze (cs - depth) / cs, share; handbook formula (from memory)."""
    return (section_mm - depth_mm) / section_mm


def gland_fill(section_mm: float, depth_mm: float, width_mm: float) -> float:
    """Fill (pi/4 cs^2) / (depth * width), share; handbook formula (from memory)."""
    return 0.25 * math.pi * section_mm**2 / (depth_mm * width_mm)


def ring_stretch(gland_inside_mm: float, ring_inside_mm: float) -> float:
    """Stretch (gland - ring) / ring of the inside diameters, share; negative when the ring is loose."""
    return (gland_inside_mm - ring_inside_mm) / ring_inside_mm


def stretched_section_mm(section_mm: float, stretch: float) -> float:
    """Section of a stretched ring at constant volume: cs / sqrt(1 + s)."""
    return section_mm / math.sqrt(1.0 + stretch)


def o_ring_sizes() -> list[ORing]:
    """All rings of the table, in the order of their size numbers."""
    rows = table("rings")["rings"]
    return [ORing(r["size"], r["inside_mm"], r["section_mm"], r["confidence"]) for r in rows]


def o_ring_of(size: str) -> ORing:
    """A ring by its size, such as "-127".

    Raises
    ------
    BadRecipe : the size is not in the table.
    """
    for ring in o_ring_sizes():
        if ring.size == size:
            return ring
    raise BadRecipe(
        f"O-ring size {size!r} is not in the table.",
        Where("recipe", key="port.ring"),
        "Use a size such as -127, or auto.",
    )


def face_gland(ring: ORing, coating_mm: float = 0.0, layer_mm: float = 0.2) -> FaceGland:
    """The printed gland for a ring: wide (liquid) width, depth on a layer where the handbook range has one.

    Parameters
    ----------
    coating_mm : coating per surface; both groove walls are moved back by it. Floor and face are coated
        alike, so the depth stays.

    Raises
    ------
    BadRecipe : the table has no gland for the section.
    """
    for row in table("rings")["face_gland"]["rows"]:
        if row["section_mm"] == ring.section_mm:
            low, high = row["depth_mm"]
            on_layer = layer_mm * round(0.5 * (low + high) / layer_mm)
            depth = on_layer if low <= on_layer <= high else 0.5 * (low + high)
            width = 0.5 * sum(row["width_liquid_mm"])
            inside = ring.inside_mm * (1.0 + STRETCH) - 2.0 * coating_mm
            return FaceGland(ring, inside, width + 2.0 * coating_mm, depth)
    raise BadRecipe(
        f"There is no gland in the table for a section of {ring.section_mm} mm.",
        Where("recipe", key="port.ring"),
        "Use a ring of another section.",
    )


def propose_ring(inner_radius_mm: float, outer_radius_mm: float, coating_mm: float = 0.0) -> FaceGland:
    """The ring for a flat annulus: largest section that leaves both lands, then the best centred.

    Raises
    ------
    DoesNotFit : no ring of the table leaves a land of 1.2 mm on both sides.
    """
    best: tuple[tuple[float, float], FaceGland] | None = None
    for ring in o_ring_sizes():
        gland = face_gland(ring, coating_mm)
        inner, outer = lands(gland, inner_radius_mm, outer_radius_mm)
        rank = (ring.section_mm, min(inner, outer))
        if min(inner, outer) >= LAND_MM and (best is None or rank > best[0]):
            best = (rank, gland)
    if best is None:
        raise DoesNotFit(
            f"No O-ring fits a face from {inner_radius_mm:.1f} to {outer_radius_mm:.1f} mm radius.",
            Where("port", key="port.ring"),
            "Make the thread larger or the bore smaller; the face wants about 5.5 mm of width.",
        )
    return best[1]


def fitting_rings(inner_radius_mm: float, outer_radius_mm: float, coating_mm: float = 0.0) -> list[str]:
    """Sizes of the rings whose gland leaves both lands on a flat annulus, those of `propose_ring` first."""
    fits = []
    for ring in o_ring_sizes():
        least = min(lands(face_gland(ring, coating_mm), inner_radius_mm, outer_radius_mm))
        if least >= LAND_MM:
            fits.append((-ring.section_mm, -least, ring.size))
    return [size for _, _, size in sorted(fits)]


def lands(gland: FaceGland, inner_radius_mm: float, outer_radius_mm: float) -> tuple[float, float]:
    """Widths of the flat lands inside and outside a gland, mm."""
    return 0.5 * gland.inside_mm - inner_radius_mm, outer_radius_mm - 0.5 * gland.outside_mm


def judge_gland(gland: FaceGland) -> tuple[Remark, ...]:
    """Remarks where squeeze, fill or stretch leave the limits of the rings table."""
    limits, where = table("rings")["limits"], Where("ring", key=gland.ring.size)
    out = []
    for word, value in (("squeeze", gland.squeeze), ("stretch", gland.stretch), ("fill", gland.fill)):
        limit = limits[f"{word}_percent"]
        percent = 100.0 * value
        if not limit["low"] <= percent <= limit["high"]:
            out.append(
                Remark(
                    "warning",
                    f"Ring {gland.ring.size} has {percent:.1f} % {word}; usual are {limit['low']} to "
                    f"{limit['high']} %.",
                    where,
                )
            )
    return tuple(out)
