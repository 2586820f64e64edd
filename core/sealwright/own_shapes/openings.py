"""Openings that lie by landmarks, and strap slots that lie by the outline."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ..errors import BadOutline, LandmarkMissing, Where, plain_point
from ..face.surface import FaceSurface
from ..mesh import Floats
from .outline import Curve, Outline
from .settings import HoleSettings, SlotSettings

_AROUND = 48  # points round an opening

_EYES = ("exocanthion_right", "endocanthion_right"), ("endocanthion_left", "exocanthion_left")
_ALARE, _MOUTH = ("alare_right", "alare_left"), ("cheilion_right", "cheilion_left")

_BY: Mapping[str, Sequence[tuple[tuple[str, str], tuple[str, str]]]] = {
    "eyes": tuple((eye, eye) for eye in _EYES),
    "nostrils": ((_ALARE, ("subnasale", "pronasale")),),
    "mouth": ((_MOUTH, _MOUTH),),
}
"""For each kind of opening: two landmarks along it, the wearer's right first, and two round its middle."""


def landmark_holes(
    face: FaceSurface, landmarks: Mapping[str, Floats], holes: Sequence[HoleSettings]
) -> list[Outline]:
    """Ellipses on the skin round the middles of pairs of landmarks.

    Parameters
    ----------
    face, landmarks : the skin and name -> (3,) mm.
    holes : what is to be left free.

    Raises
    ------
    LandmarkMissing : there is no such landmark on this wearer.
    """
    found = []
    for number, hole in enumerate(holes):
        for ends, around in _BY[hole.at]:
            missing = [name for name in (*ends, *around) if name not in landmarks]
            if missing:
                raise LandmarkMissing(
                    f"An opening for {hole.at} needs the landmark {missing[0]}, which was not found.",
                    Where("landmarks", key=f"recipe.shell.holes[{number}].at"),
                    "Set it by hand or in a landmark file, or draw the opening as a hole of the outline.",
                )
            along = landmarks[ends[1]] - landmarks[ends[0]]
            middle = 0.5 * (landmarks[around[0]] + landmarks[around[1]]) + np.array([0.0, 0.0, hole.up_mm])
            turn = 2.0 * np.pi * np.arange(_AROUND) / _AROUND
            flat = 0.5 * np.column_stack([hole.width_mm * np.cos(turn), hole.height_mm * np.sin(turn)])
            side = f"{ends[0].rpartition('_')[2]} " if hole.at == "eyes" else ""
            found.append(Outline(f"{side}{hole.at} opening", _laid_flat(face, middle, along, flat)))
    return found


def _laid_flat(face: FaceSurface, middle: Floats, along: Floats, flat: Floats) -> Floats:
    """Plane points (k, 2) laid on the skin round a middle (3,), their first axis along a direction (3,)."""
    middle = face.drop_on_skin(middle, smooth=True)
    normal = face.normal_at(face.chart.place_of(middle)[0])
    first = along - (along @ normal) * normal
    first = first / np.linalg.norm(first)
    second = np.cross(normal, first)
    return face.drop_on_skin(middle + flat[:, :1] * first + flat[:, 1:] * second)


def strap_slots(
    face: FaceSurface, outline: Curve, edge_mm: float, slots: Sequence[SlotSettings]
) -> list[Outline]:
    """Slots along both sides of an outline.

    Parameters
    ----------
    face, outline : the skin and the outermost line.
    edge_mm : width of the rolled edge.
    slots : one pair each.

    Raises
    ------
    BadOutline : the outline has no such height.
    """
    found = []
    height = outline.points[:, 2]
    for number, slot in enumerate(slots, start=1):
        level = height.min() + slot.level * (height.max() - height.min())
        following = np.roll(height, -1)
        at = np.flatnonzero((height <= level) != (following <= level))
        if len(at) < 2:
            raise BadOutline(
                f"No strap slots find a place at {100 * slot.level:.0f} % of the height.",
                Where(
                    "slot",
                    point=plain_point(outline.points[0]),
                    key=f"recipe.shell.slots[{number - 1}].level",
                ),
                "Choose another level.",
            )
        across = outline.points[at, 0]
        for side, station in (("right", at[np.argmin(across)]), ("left", at[np.argmax(across)])):
            found.append(Outline(f"slot {number} {side}", _slot(face, outline, int(station), edge_mm, slot)))
    return found


def _slot(face: FaceSurface, outline: Curve, station: int, edge_mm: float, slot: SlotSettings) -> Floats:
    """A stadium (k, 3) on the skin beside a station of the outline."""
    here = outline.points[station]
    step = max(int(round(0.25 * slot.length_mm / outline.spacing_mm)), 1)
    count = len(outline.points)
    along = outline.points[(station + step) % count] - outline.points[(station - step) % count]
    normal = face.normal_at(face.chart.place_of(here)[0])
    inwards = np.cross(normal, along)
    inwards /= np.linalg.norm(inwards)
    deep = edge_mm + slot.bridge_mm + 0.5 * slot.width_mm
    middle = face.walk(here[None], inwards[None], deep)[0]
    half, radius = 0.5 * max(slot.length_mm - slot.width_mm, 0.0), 0.5 * slot.width_mm
    turn = np.linspace(-0.5 * np.pi, 0.5 * np.pi, _AROUND // 2)
    end = np.column_stack([half + radius * np.cos(turn), radius * np.sin(turn)])
    return _laid_flat(face, middle, along, np.vstack([end, -end]))
