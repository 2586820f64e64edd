"""A ring of soft material on the port's front face: printed in place with a keyed root, or laid on loose.

The ring covers the face, so that in a port-down print its layers come first and alone: one change of
material at an exact layer. The root is a dovetail that locks the ring in the rigid face; its layers hold
both materials.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from ..errors import BadRecipe, DoesNotFit, Where
from ..limits import limit
from ..solids.boolean import Solid, union
from ..solids.primitives import revolved
from .options import PortSettings

SQUEEZE = 0.25  # of the height that stands out, when the cap is tight: as for O-rings, 20 to 30 %
_WAIST_MM = 1.0  # depth at which the root is widest
_RIDGE_MM = 0.3  # flat left at the end of the root: under one nozzle line
_JOIN_MM = 0.01  # the root reaches this far into the face part, so that the two are one


@dataclass(frozen=True)
class SoftRing:
    """A soft ring on a face, in the port frame, mm.

    Attributes
    ----------
    inner, outer : radii of the face part.
    face : height of the rigid face.
    proud : height of the face part.
    depth : depth of the root; 0 for a loose ring.
    neck, base : radial width of the root at the face and where it is widest.
    waist : depth at which it is widest; from there its end closes at 45 degrees to a ridge, so that the rigid
        part prints over it without bridging.
    """

    inner: float
    outer: float
    face: float
    proud: float
    depth: float
    neck: float
    base: float
    waist: float

    @property
    def middle(self) -> float:
        """Radius of the middle of the face."""
        return 0.5 * (self.inner + self.outer)

    @property
    def undercut_deg(self) -> float:
        """Angle of the root's walls from the vertical, degrees."""
        return math.degrees(math.atan2(0.5 * (self.base - self.neck), self.waist)) if self.depth else 0.0

    @property
    def volume_mm3(self) -> float:
        """Volume by Pappus: area of the section times the way of its middle."""
        face = (self.outer - self.inner) * self.proud
        root = 0.5 * (self.neck + self.base) * self.waist
        root += 0.5 * (self.base + _RIDGE_MM) * (self.depth - self.waist)
        return 2.0 * math.pi * self.middle * (face + root)


def soft_ring(settings: PortSettings, inner_mm: float, outer_mm: float, face_mm: float) -> SoftRing:
    """Lay out a ring on the face between two radii.

    Raises
    ------
    DoesNotFit : the face is too narrow for the root with 1.2 mm of rigid wall on both sides.
    """
    width = outer_mm - inner_mm
    if settings.seal == "flat":
        return SoftRing(inner_mm, outer_mm, face_mm, settings.soft_proud_mm, 0.0, 0.0, 0.0, 0.0)
    neck, base = 0.3 * width, 0.3 * width + 1.2
    if width - base < limit("soft_ring_flanks").value:
        raise DoesNotFit(
            f"The front face is {width:.1f} mm wide; a locked soft ring needs 5.2 mm.",
            Where("port", key="port.seal"),
            "Make the thread larger or the bore smaller, or use an O-ring.",
        )
    depth = _WAIST_MM + 0.5 * (base - _RIDGE_MM)
    return SoftRing(inner_mm, outer_mm, face_mm, settings.soft_proud_mm, depth, neck, base, _WAIST_MM)


def ring_solid(ring: SoftRing, segments: int) -> Solid:
    """The ring as its own part: face part and root in one piece."""
    top = ring.face + ring.proud
    face = [(ring.inner, ring.face), (ring.outer, ring.face), (ring.outer, top), (ring.inner, top)]
    part = revolved(face, "soft ring", segments)
    if not ring.depth:
        return part
    return union("soft ring", part, _root(ring, ring.face + _JOIN_MM, segments))


def root_cutter(ring: SoftRing, segments: int) -> Solid:
    """The groove in the rigid face that the root fills."""
    return _root(ring, ring.face + 1.0, segments)


def _root(ring: SoftRing, top: float, segments: int) -> Solid:
    """The dovetail, its neck carried straight up to a height."""
    middle, half_neck, half_base = ring.middle, 0.5 * ring.neck, 0.5 * ring.base
    bottom = ring.face - ring.depth
    profile = [
        (middle - 0.5 * _RIDGE_MM, bottom),
        (middle + 0.5 * _RIDGE_MM, bottom),
        (middle + half_base, ring.face - ring.waist),
        (middle + half_neck, ring.face),
        (middle + half_neck, top),
        (middle - half_neck, top),
        (middle - half_neck, ring.face),
        (middle - half_base, ring.face - ring.waist),
    ]
    return revolved(profile, "soft ring root", segments)


@dataclass(frozen=True)
class MaterialChange:
    """From this layer on, counted from 1, another material is used.

    Attributes
    ----------
    layer : number of the first layer in the material.
    z_mm : height of the bottom of that layer over the bed.
    material : "soft", "rigid" or "both".
    """

    layer: int
    z_mm: float
    material: str


def layer_bottom_mm(layer: int, layer_height_mm: float, first_layer_mm: float) -> float:
    """Height over the bed of the bottom of a layer, layers counted from 1."""
    return 0.0 if layer == 1 else first_layer_mm + (layer - 2) * layer_height_mm


def nearest_layer(z_mm: float, layer_height_mm: float, first_layer_mm: float) -> int:
    """The layer whose bottom lies nearest to a height; the lower of two equally near."""
    above = (z_mm - first_layer_mm) / layer_height_mm
    if above < -0.5 * first_layer_mm / layer_height_mm:
        return 1
    return 2 + max(0, math.ceil(above - 0.5 - 1e-9))


def material_changes(
    z_bottom: float, z_top: float, layer_height: float, first_layer: float, within: str = "soft"
) -> tuple[MaterialChange, ...]:
    """The changes that print one span of height in another material than the rest.

    Parameters
    ----------
    z_bottom, z_top : the span over the bed, mm; z_bottom >= 0.
    layer_height, first_layer : mm.
    within : what the span is printed in: "soft", or "both" where soft and rigid share the layers.

    Returns
    -------
    The change into the span and the change back to rigid, with exact layer numbers and heights.

    Raises
    ------
    BadRecipe : the layers are not positive, the span lies under the bed or holds no whole layer.
    """
    if min(layer_height, first_layer) <= 0.0 or z_bottom < -1e-9:
        raise BadRecipe(
            f"Layers of {layer_height} mm (first {first_layer} mm) from {z_bottom} mm cannot be printed.",
            Where("recipe", key="print.layer_mm"),
            "Give layer heights over zero and a span on or over the bed.",
        )
    start = nearest_layer(z_bottom, layer_height, first_layer)
    end = nearest_layer(z_top, layer_height, first_layer)
    if end <= start:
        raise BadRecipe(
            f"The soft span from {z_bottom:.2f} to {z_top:.2f} mm holds no whole layer of "
            f"{layer_height:.2f} mm.",
            Where("recipe", key="port.soft_proud_mm"),
            "Make the ring higher or the layers thinner.",
        )
    return (
        MaterialChange(start, layer_bottom_mm(start, layer_height, first_layer), within),
        MaterialChange(end, layer_bottom_mm(end, layer_height, first_layer), "rigid"),
    )
