"""The frame over the medium: presses its edge, holds a pre-filter; snapped or screwed on the holder's rim.

A snapped frame has fingers that stay bent when it is home: their beads bear on the slope behind the rim and
draw the ring on the medium, so that nothing rattles. The pre-filter lies in the ring's opening and takes no
part in the pressing. Built in the holder's print frame (holder's bed face at z = 0, medium below it), which
is also the frame's own way up in the print: its outer face lies on the bed and its wall stands up, so nothing
overhangs more than 45 degrees.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..errors import BadRecipe, Where
from ..mesh import Floats
from ..solids.boolean import Solid, difference, intersection, union
from ..solids.primitives import cuboid, lofted, prism, revolved
from .allowance import Allowance, material_row
from .clamp import clamp_of, pressed_edge, ridge_solid
from .knurl import grip_outline
from .options import HolderSettings
from .outlines import Seat
from .port_parts import EDGE_MM
from .screw import Helix, screw
from .threads import Thread, printed_thread

RING_MM = 3.6  # least height of the ring: the fingers bend along it
BAR_MM = 1.6  # height of the crossed bars
FINGER_WALL_MM = 0.9  # two lines
FINGER_ROOT_MM = 1.4  # height where the fingers begin to bend
FINGER_GAP_MM = 0.9  # between the fingers and the ring they bend along
BACK_SLOPE_MM = 0.6  # slope behind the rim that the beads bear on
CATCH_MM = 0.5  # how far the bead reaches behind the rim
FINGER_MM = 14.0  # width of a finger
SLOT_MM = 1.2
CROSS_BAR_MM = 3.0
SNAP_FLANGE_MM = 3.2  # thickness of the holder's rim a frame snaps behind
SCREW_FLANGE_MM = 6.0
SCREW_PITCH_MM = 2.0
SCREW_WALL_MM = 1.8  # four lines
SCREW_RELIEF_MM = 0.2  # between the core of the rim and the root of its thread
_AROUND_BEAD_MM = 0.4  # of the wall behind and beyond the bead
_GLUED_PLAY_MM = 0.2  # of a frame over a glued medium, which nothing presses
_COVER_MM = 0.6  # of the land stays free beside the open area; so far the bars reach under the ring
_FAR_MM = 500.0  # beyond any holder
_INTO_MM = 0.01  # how far surfaces that would coincide are moved into each other
_THREAD_END_MM = 0.1  # plain at both ends of the rim's thread


def flange_mm(settings: HolderSettings) -> float:
    """Thickness of the holder's rim for the chosen frame."""
    return SCREW_FLANGE_MM if settings.retainer == "screw" else SNAP_FLANGE_MM


def rim_thread(settings: HolderSettings, seat: Seat) -> Thread:
    """The thread on the holder's rim for a screwed frame.

    Its core is as wide as a plain rim, so that the groove for ridge or glue keeps its outer wall.

    Raises
    ------
    BadRecipe : the medium is not round.
    """
    if not seat.disc:
        raise BadRecipe(
            "A rectangular pad cannot have a screwed frame.",
            Where("recipe", key="holder.retainer"),
            "Set holder.retainer to snap or none, or use a disc.",
        )
    depth = printed_thread(settings.disc_mm, SCREW_PITCH_MM).male.bottom_mm
    return printed_thread(2.0 * settings.disc_mm - 2.0 * depth + 2.0 * SCREW_RELIEF_MM, SCREW_PITCH_MM)


def retainer_solid(settings: HolderSettings, seat: Seat, allowance: Allowance) -> Solid | None:
    """The frame, or None when the settings want none.

    Raises
    ------
    BadRecipe : a screwed frame for a rectangular pad.
    """
    if settings.retainer == "none":
        return None
    shell = (_screw_shell if settings.retainer == "screw" else _snap_shell)(settings, seat, allowance)
    parts = [shell, _cross(settings, seat)]
    if pressed_edge(settings):
        parts.append(ridge_solid(seat, settings, clamp_of(settings)))
    return union("retainer", *parts)


def ring_low_mm(settings: HolderSettings) -> float:
    """Height of the frame's outer face: below medium, pre-filter and crossed bars."""
    bars = -(settings.medium_thickness_mm + settings.prefilter_mm + BAR_MM)
    return min(bars, clamp_of(settings).face - RING_MM)


@dataclass(frozen=True, kw_only=True)
class SnapFacts:
    """How a snapped frame holds; the preload is None without a pressed edge or a known modulus."""

    snap_finger_length_mm: float
    snap_finger_strain_percent: float
    retainer_play_mm: float
    retainer_preload_n: float | None


def snap_facts(settings: HolderSettings, seat: Seat, allowance: Allowance) -> SnapFacts:
    """Strain of a finger as it passes the rim, and the preload when it is home.

    Cantilever: strain 1.5 t y / L^2, force E b t^3 y / (4 L^3) (textbook formulas, from memory). The bead
    bears on a slope of 45 degrees, so the pull along the axis is the force across it, friction left out.
    """
    tip = _bead_low(settings, allowance) + _bead_rise(allowance)
    length = tip - (ring_low_mm(settings) + FINGER_ROOT_MM)
    strain = 1.5 * FINGER_WALL_MM * CATCH_MM / length**2
    modulus = material_row(allowance.material).get("tensile_modulus_mpa")
    preload, force = _preload(settings), None
    if modulus is not None and pressed_edge(settings):
        around = 2.0 * math.pi * math.sqrt(seat.area_mm2() / math.pi)
        across = float(modulus["value"]) * FINGER_WALL_MM**3 * preload / (4.0 * length**3)
        force = across * around * (1.0 - SLOT_MM / FINGER_MM)
    return SnapFacts(
        snap_finger_length_mm=length,
        snap_finger_strain_percent=100.0 * strain,
        retainer_play_mm=-preload if pressed_edge(settings) else _GLUED_PLAY_MM,
        retainer_preload_n=force,
    )


def _preload(settings: HolderSettings) -> float:
    return settings.preload_mm if pressed_edge(settings) else 0.0


def _bead_low(settings: HolderSettings, allowance: Allowance) -> float:
    """Height where the bead begins: its slope bears on that of the rim, or lies 0.2 mm behind a glued one."""
    if not pressed_edge(settings):
        return flange_mm(settings) + _GLUED_PLAY_MM
    return flange_mm(settings) - BACK_SLOPE_MM - allowance.female_offset_mm - settings.preload_mm


def _bead_rise(allowance: Allowance) -> float:
    return CATCH_MM + allowance.female_offset_mm


def _opening(settings: HolderSettings) -> float:
    """Inset of the frame's opening: the ring covers the land but not the open area."""
    return settings.land_mm - _COVER_MM


def _snap_shell(settings: HolderSettings, seat: Seat, allowance: Allowance) -> Solid:
    """Ring and slotted wall with a bead that catches behind the rim."""
    gap, low, face = allowance.female_offset_mm, ring_low_mm(settings), clamp_of(settings).face
    outer = -(gap + FINGER_WALL_MM)
    top = _bead_low(settings, allowance) + 2.0 * _bead_rise(allowance) + _AROUND_BEAD_MM
    body = lofted(
        [seat.inset(outer + EDGE_MM), seat.inset(outer), seat.inset(outer)],
        [low, low + EDGE_MM, top],
        "frame body",
    )
    hollow = lofted([seat.inset(-gap)] * 2, [face, top + 1.0], "frame hollow")
    root = low + FINGER_ROOT_MM
    behind = difference(
        "finger gap",
        prism(seat.inset(-gap), root, face + 0.5, "finger gap"),
        prism(seat.inset(FINGER_GAP_MM - gap), root - 0.5, face + 1.0, "ring"),
    )
    opening = prism(seat.inset(_opening(settings)), low - 1.0, face + 1.0, "frame opening")
    shell = union(
        "frame", difference("frame", body, hollow, behind, opening), _bead(settings, seat, allowance)
    )
    return difference("frame", shell, *_slots(seat, root, top + 1.0, gap))


def _bead(settings: HolderSettings, seat: Seat, allowance: Allowance) -> Solid:
    """The bead inside the wall, both its faces at 45 degrees; none round the corners of a pad."""
    rise, low = _bead_rise(allowance), _bead_low(settings, allowance)
    ring = prism(
        seat.inset(-allowance.female_offset_mm - _AROUND_BEAD_MM), low, low + 2.0 * rise, "bead ring"
    )
    root, tip = seat.inset(-allowance.female_offset_mm - _INTO_MM), seat.inset(CATCH_MM)
    waist = lofted([root, tip, root], [low - _INTO_MM, low + rise, low + 2.0 * rise + _INTO_MM], "bead waist")
    bead = difference("bead", ring, waist)
    if seat.disc:
        return bead
    x, y = 0.5 * seat.length_mm - seat.corner_mm, 0.5 * seat.width_mm - seat.corner_mm
    straight = union(
        "bead straights",
        cuboid((-x, -_FAR_MM, -_FAR_MM), (x, _FAR_MM, _FAR_MM), "bead along X"),
        cuboid((-_FAR_MM, -y, -_FAR_MM), (_FAR_MM, y, _FAR_MM), "bead along Y"),
    )
    return intersection("bead", bead, straight)


def _slots(seat: Seat, low: float, high: float, gap: float) -> list[Solid]:
    """Thin cutters through opposite walls, so that the wall becomes fingers that can bend; the ring stays."""
    half = 0.5 * SLOT_MM
    ring = prism(seat.inset(FINGER_GAP_MM - gap - _INTO_MM), low - 1.0, high + 1.0, "ring")
    if seat.disc:
        count = math.ceil(math.pi * seat.length_mm / FINGER_MM / 2.0)
        blade = cuboid((-_FAR_MM, -half, low), (_FAR_MM, half, high), "slot")
        cutters = [blade.moved(_about_z(math.pi * (i + 0.5) / count)) for i in range(count)]
        return [difference("slots", union("slots", *cutters), ring)]
    cutters = []
    for along, size in ((0, seat.length_mm), (1, seat.width_mm)):
        straight = size - 2.0 * seat.corner_mm
        for at in np.linspace(-0.5 * straight, 0.5 * straight, max(2, round(straight / FINGER_MM) + 1)):
            corner = np.array([_FAR_MM, _FAR_MM])
            corner[along] = half
            middle = np.zeros(2)
            middle[along] = at
            cutters.append(cuboid((*(middle - corner), low), (*(middle + corner), high), "slot"))
    return [difference("slots", union("slots", *cutters), ring)]


def _about_z(angle_rad: float) -> Floats:
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    out = np.eye(4)
    out[:2, :2] = [[c, -s], [s, c]]
    return out


def _cross(settings: HolderSettings, seat: Seat) -> Solid:
    """Two crossing bars on the bed: they keep the pre-filter from bulging and fingers from the medium."""
    half, low = 0.5 * CROSS_BAR_MM, ring_low_mm(settings)
    high = -(settings.medium_thickness_mm + settings.prefilter_mm)
    inset = _opening(settings) - _COVER_MM
    x, y = 0.5 * seat.length_mm - inset, 0.5 * seat.width_mm - inset
    one = cuboid((-x, -half, low), (x, half, high), "frame bar")
    return union("frame cross", one, cuboid((-half, -y, low), (half, y, high), "frame bar"))


def _screw_shell(settings: HolderSettings, seat: Seat, allowance: Allowance) -> Solid:
    """Ring with a thread and a grip outside; the medium stops it."""
    front = clamp_of(settings).face
    thread = rim_thread(settings, seat)
    female = thread.female.moved_out(allowance.female_offset_mm)
    outline = grip_outline(female.top_mm + SCREW_WALL_MM, settings.grip)
    low, top = ring_low_mm(settings), SCREW_FLANGE_MM
    scale = 1.0 - EDGE_MM / float(np.hypot(*outline.T).max())
    body = lofted([outline * scale, outline, outline], [low, low + EDGE_MM, top], "frame body")
    helix = Helix(female.line(), thread.pitch_mm, 1, 0.5 * SCREW_FLANGE_MM)
    reach = female.top_mm + 1.0
    envelope = [(0.0, front), (reach, front), (reach, top + 1.0), (0.0, top + 1.0)]
    cutter = screw(helix, envelope, "frame thread", female=True)
    bottom, root = female.bottom_mm - 0.5, female.top_mm
    rise = root - bottom  # the medium lies in the relief; the ridges begin above it at 45 degrees
    relief = [(0.0, front), (root, front), (root, 0.2), (bottom, 0.2 + rise), (0.0, 0.2 + rise)]
    lead_in = [(0.0, top - 1.5), (bottom, top - 1.5), (bottom + 2.5, top + 1.0), (0.0, top + 1.0)]
    opening = prism(seat.inset(_opening(settings)), low - 1.0, front + 1.0, "frame opening")
    turned = [revolved(lead_in, "frame lead-in"), revolved(relief, "frame relief")]
    return difference("frame", body, cutter, *turned, opening)


def screw_rim(settings: HolderSettings, seat: Seat, allowance: Allowance) -> Solid:
    """The holder's rim with an external thread for a screwed frame, lead-in at both ends.

    Raises
    ------
    BadRecipe : the medium is not round.
    """
    thread = rim_thread(settings, seat)
    male = thread.male.moved_out(allowance.male_offset_mm)
    helix = Helix(male.line(), thread.pitch_mm, 1, 0.5 * SCREW_FLANGE_MM)
    core, top = male.bottom_mm - SCREW_RELIEF_MM, male.top_mm + 0.5
    height = SCREW_FLANGE_MM
    body = revolved(
        [
            (0.0, 0.0),
            (core - EDGE_MM, 0.0),
            (core, EDGE_MM),
            (core, height - EDGE_MM),
            (core - EDGE_MM, height),
            (0.0, height),
        ],
        "rim core",
    )
    buried = core - 0.5
    rise = top - buried
    low, high = _THREAD_END_MM, height - _THREAD_END_MM
    ends = [(buried, low), (top, low + rise), (top, high - rise), (buried, high)]
    ridge = screw(helix, [(0.0, low), *ends, (0.0, high)], "rim thread")
    return union("holder rim", body, ridge)
