"""What stays open where skin and band touch: lines of the skin, and grooves of the printed layers.

The steps of the layers are taken as a wave that skin is pressed into (Westergaard 1939; K. L. Johnson,
Contact
Mechanics, 1985, section 13.2): it closes fully at a mean pressure pi E* a / l, where a is half the height of
the
steps, l their distance and E* = E / (1 - v^2). Air runs along grooves, not across them; a coating levels
them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from ..mesh import Floats
from ..printing.staircase import apart_mm, cusp_mm, levelled, slope_of
from .batch import Singles
from .patch import ContactPatch

_ROUND = 0.25
"""A step is as high as the layer where the surface lies flat, and a bead's roundness, so much of the layer,
where it stands upright; assumption, no source."""


@dataclass(frozen=True, eq=False)
class Surface:
    """The face side of the band as it is printed.

    Attributes
    ----------
    layer_mm : height of a layer; 0 is a smooth surface (cast in a smooth mould, or a strip of foam).
    coating_mm : thickness of a coating over the layers.
    print_up : (3,) direction of the layers in the face frame; None where it is not known (the worst is
        taken).
    normals : (n, 3) unit normals of the finished surface at every point of the patch; None takes the skin's.
    on_cushion : the printed surface is that of the cushion itself, or of the mould that it is cast in; else a
        cushion covers it.
    """

    layer_mm: float = 0.0
    coating_mm: float = 0.0
    print_up: Floats | None = None
    normals: Floats | None = None
    on_cushion: bool = False


SMOOTH = Surface()
"""A cast surface, or one that is covered."""


@cache
def _closing_table() -> tuple[Floats, Floats]:
    """Pressure over that of full closing, and mean cube of the open gap over the cube of the amplitude."""
    share = np.linspace(0.0, 1.0, 201)
    return share, np.array([mean_cube(float(s)) for s in share])


def wave_gap(pressure_share: float, phase: Floats) -> Floats:
    """Gap over amplitude at phases (0 crest, pi/2 valley) of a wave pressed flat in part.

    From dg/dx of Westergaard's solution: with s = sin(phase) and s0^2 the share of the closing pressure,
    g = 2 [s sqrt(s^2 - s0^2) - s0^2 ln((s + sqrt(s^2 - s0^2)) / s0)] where s > s0, else 0.
    """
    sine, edge = np.abs(np.sin(phase)), np.sqrt(max(pressure_share, 0.0))
    if edge <= 0.0:
        return np.asarray(2.0 * sine**2)
    root = np.sqrt(np.maximum(sine**2 - edge**2, 0.0))
    inner = np.maximum(sine, edge)
    return np.asarray(2.0 * (inner * root - edge**2 * np.log((inner + root) / edge)))


def mean_cube(pressure_share: float) -> float:
    """Mean cube of the gap over that of the amplitude: what flow along a groove feels."""
    phase = (np.arange(2000) + 0.5) / 2000 * (0.5 * np.pi)
    return float((wave_gap(pressure_share, phase) ** 3).mean())


@dataclass(frozen=True, eq=False)
class Grooves:
    """Grooves of the layers under a band.

    Attributes
    ----------
    amplitude_mm, distance_mm : (n,) half the height of the steps, and how far they lie apart.
    across : (n,) square of the cosine between groove and the way of the air across the band.
    """

    amplitude_mm: Floats
    distance_mm: Floats
    across: Floats

    def open_cube(self, pressure: Singles, plane_modulus: Singles) -> Floats:
        """Mean cube (m, n) of the opening across the band, mm3.

        Parameters
        ----------
        pressure, plane_modulus : (m, n) in the same unit; the modulus is E / (1 - v^2).
        """
        closing = np.pi * self.amplitude_mm / self.distance_mm
        share, cube = _closing_table()
        used = np.interp(pressure / (closing * plane_modulus + 1e-30), share, cube)
        return np.asarray(used * (self.amplitude_mm**3 * self.across))


def grooves_of(patch: ContactPatch, along: Floats, surface: Surface) -> Grooves | None:
    """The grooves of a printed band, from the slope of its surface to the layers; None on a smooth surface.

    Parameters
    ----------
    patch : the band.
    along : (n, 3) unit direction of the seal line at every point.
    surface : how it is printed.
    """
    if surface.layer_mm <= 0.0:
        return None
    count = len(patch.points)
    if surface.print_up is None:
        slope, across = np.full(count, np.sqrt(0.5)), np.ones(count)
    else:
        normals = patch.normals if surface.normals is None else surface.normals
        slope = slope_of(normals, surface.print_up)
        groove = np.cross(normals, surface.print_up / np.linalg.norm(surface.print_up))
        size = np.linalg.norm(groove, axis=1)
        way = np.cross(normals, along)
        length = np.maximum(size * np.linalg.norm(way, axis=1), 1e-9)
        cosine = np.einsum("ij,ij->i", groove, way) / length
        across = np.where(size > 0.05, cosine**2, 1.0)
    height = cusp_mm(np.maximum(slope, _ROUND), surface.layer_mm)
    distance = np.minimum(apart_mm(slope, surface.layer_mm), surface.layer_mm / _ROUND)
    return Grooves(0.5 * height * levelled(distance, surface.coating_mm), distance, across)
