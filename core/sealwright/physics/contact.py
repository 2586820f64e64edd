"""The mask on the face under its straps: pressures, residual gaps, pose shift, share of the seal shut.

What is weak, so that nobody takes the numbers for more than they are:

- Every point of the skin is a spring of its own (Winkler): no stretch of the skin between neighbours, so a
  single high point takes its pressure alone and real peaks are lower and wider.
- Linear and without time: tissue stiffens when pressed by more than about a third and creeps within minutes.
- Moduli vary by a factor of two and more between people; the nose and the under-chin have no published value.
- The mask is rigid, the skull stands still, the straps keep their direction, the motion is small.
- The mask is first offered to the face straight and gently (`SEAT_N`) and finds its seat; from there the
  skin holds sideways where it is pressed (`GRIP_KPA`). There is no law of slip, only a check of the sum.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from ..errors import NotConverged, Remark, Where, plain_point
from ..limits import limit
from ..mesh import Floats
from ..settings import check_settings
from .contact_result import CAPILLARY_KPA, ContactResult, ContactSettings
from .equilibrium import FARTHEST_MM, Equilibrium, Wrench, resultant_wrench, solve_equilibrium
from .foundation import KPA, Foundation, foundation_of
from .loop import Loop, loop_of
from .patch import ContactPatch, StrapPull, check_patch, check_pulls
from .skin_map import tissue_of

SEAT_N = 0.2
"""Pull with which the mask is offered to the face before the straps are tightened, N; assumption."""

SEAT_SHEAR = 0.01
"""Share of the skin's hold against sliding while the mask finds its seat: it glides; assumption."""

GRIP_KPA = 1.0
"""Pressure from which the skin holds in full against sliding, in proportion below it, kPa; assumption."""

ROUNDS = 12
"""Rounds in which that hold is brought in line with the pressures; three or four are usual."""


def solve_contact(
    patch: ContactPatch,
    pulls: Sequence[StrapPull],
    settings: ContactSettings | None = None,
    foundation: Foundation | None = None,
    loop: Loop | None = None,
    extra: Wrench | None = None,
) -> ContactResult:
    """Balance a rigid mask on the elastic face under strap pulls.

    Parameters
    ----------
    patch : the contact band with its unloaded gaps.
    pulls : straps at their lugs.
    settings : skin, soft layer, friction.
    foundation : ready springs, instead of those from the settings.
    loop : ready stations of the patch, to save time in a series of solves.
    extra : further load about `ContactPatch.centre`, such as `breath_wrench`.

    Raises
    ------
    BadNumbers : see `check_patch`.
    BadRecipe : a tension or setting out of range.
    NotConverged : the pull leads away, tips or slides the mask off, or turns it too far; the message says
        which.
    """
    chosen = settings or ContactSettings()
    check_settings(chosen, "contact")
    check_patch(patch)
    check_pulls(pulls)
    springs = foundation or foundation_of(patch, chosen.foundation)
    load = resultant_wrench(pulls, patch.centre)
    load = load if extra is None else load.plus(extra)
    springs, balance = _tighten(patch, springs, load)
    _refuse_wild_motion(patch, balance, chosen)
    return _result(patch, springs, balance, load, chosen, loop or loop_of(patch))


def _tighten(patch: ContactPatch, springs: Foundation, load: Wrench) -> tuple[Foundation, Equilibrium]:
    """Seat the mask, then balance it with the skin holding sideways only where it is pressed.

    Every round is a convex problem with one answer; forces balance in each, whatever the hold.
    """
    seat = _seat(patch, springs, load)
    held, balance = springs, solve_equilibrium(patch, springs, load, start=seat, anchor=seat)
    if seat is None:
        return held, balance
    grip = np.ones(len(patch.points))
    for _ in range(ROUNDS):
        before, grip = grip, np.minimum(1.0, balance.pressure / (GRIP_KPA * KPA))
        if np.abs(grip - before).max() < 0.01:
            break
        held = Foundation(springs.normal, springs.shear * grip, springs.skin)
        balance = solve_equilibrium(patch, held, load, start=balance.motion, anchor=seat)
    return held, balance


def _seat(patch: ContactPatch, springs: Foundation, load: Wrench) -> Floats | None:
    """Motion (6,) to the place where the mask rests when offered gently; None where the skin never holds."""
    size = float(np.linalg.norm(load.force_n))
    if not springs.shear.any() or size <= 0.0:
        return None
    gliding = Foundation(springs.normal, SEAT_SHEAR * springs.shear, springs.skin)
    gentle = load.scaled(min(1.0, SEAT_N / size))
    way = load.force_n / size
    motion: Floats = np.concatenate([_first_touch_mm(patch, way) * way, np.zeros(3)])
    for _ in range(ROUNDS):
        rest = solve_equilibrium(patch, gliding, gentle, start=motion, anchor=motion)
        motion = rest.motion
        # A mask that still hangs in the air by the gliding comes nearer once more.
        if float(rest.pressure @ patch.areas) >= 0.5 * float(np.linalg.norm(gentle.force_n)):
            break
    return motion


def _first_touch_mm(patch: ContactPatch, way: Floats) -> float:
    """How far the hand carries the mask along the pull (3,) until a point touches; 0 where one does."""
    closing = -(patch.normals @ way)
    if patch.gap_mm.min() <= 0.0 or closing.max() <= 0.1:
        return 0.0
    # Points that hardly come nearer are left out: they would be reached far beyond the face.
    near = closing > 0.1
    return min(float((patch.gap_mm[near] / closing[near]).min()), FARTHEST_MM)


def _refuse_wild_motion(patch: ContactPatch, balance: Equilibrium, chosen: ContactSettings) -> None:
    turn = math.degrees(float(np.linalg.norm(balance.turn_rad)))
    shift = float(np.linalg.norm(balance.shift_mm))
    if turn <= chosen.turn_limit_deg and shift <= chosen.shift_limit_mm:
        return
    raise NotConverged(
        f"The straps turn the mask by {turn:.0f} deg and shift it by {shift:.0f} mm; the limits are "
        f"{chosen.turn_limit_deg:g} deg and {chosen.shift_limit_mm:g} mm.",
        Where("straps", point=plain_point(patch.centre)),
        "Move the lugs so that the pull passes near the middle of the band, towards the back of the head.",
    )


def _result(
    patch: ContactPatch,
    springs: Foundation,
    balance: Equilibrium,
    load: Wrench,
    chosen: ContactSettings,
    loop: Loop,
) -> ContactResult:
    pressure = balance.pressure / KPA
    touching = pressure > 0.0
    area = float(patch.areas[touching].sum())
    contact = float(balance.pressure @ patch.areas)
    sideways = _sideways(patch, springs, balance)
    _refuse_slip(patch, sideways, contact, chosen.friction)
    station_pressure = loop.per_station(np.maximum, pressure)
    open_gap = np.maximum(0.0, balance.gap_mm)
    held = station_pressure * 1e3 >= chosen.breath_pa + chosen.seal_margin_pa
    length = float(loop.width_mm.sum())
    indent = balance.pressure / springs.skin
    peak = int(np.argmax(pressure))
    strain = float((indent / tissue_of(patch).thickness_mm).max())
    return ContactResult(
        pressure,
        open_gap,
        indent,
        balance.shift_mm,
        np.degrees(balance.turn_rad),
        patch.centre,
        station_pressure,
        loop.per_station(np.minimum, open_gap),
        float(loop.width_mm[station_pressure > 0.0].sum()) / length,
        float(loop.width_mm[held].sum()) / length,
        float(np.linalg.norm(load.force_n)),
        contact,
        sideways,
        area,
        float(pressure[peak]),
        contact / KPA / area if area > 0.0 else 0.0,
        peak,
        strain,
        balance.residual,
        balance.work_residual,
        balance.iterations,
        _remarks(
            patch, strain, float(np.degrees(np.linalg.norm(balance.turn_rad))), float(pressure[peak]), peak
        ),
    )


def _sideways(patch: ContactPatch, springs: Foundation, balance: Equilibrium) -> float:
    """What the skin holds along itself, N: the resultant, or its moment over the reach if larger."""
    held = (springs.shear * patch.areas)[:, None] * balance.slide_mm
    moment = np.cross(patch.points - patch.centre, held).sum(axis=0)
    return float(max(np.linalg.norm(held.sum(axis=0)), np.linalg.norm(moment) / patch.reach_mm))


def _refuse_slip(patch: ContactPatch, sideways: float, contact: float, friction: float) -> None:
    x, y, z = (float(c) for c in patch.centre)
    if contact <= 0.0:
        raise NotConverged(
            "The mask finds no balance on the face: nothing touches.",
            Where("straps", point=(x, y, z)),
            "Turn the straps towards the back of the head, and look whether the band lies on the face.",
        )
    if sideways > friction * contact:
        needed = sideways / contact
        raise NotConverged(
            f"The mask slides: the skin would have to hold {needed:.2f} times the pressing force sideways, "
            f"more than the friction of {friction:g}.",
            Where("straps", point=(x, y, z)),
            "Turn the straps more towards the back of the head, or balance left and right.",
        )


def _remarks(patch: ContactPatch, strain: float, turn: float, peak: float, index: int) -> tuple[Remark, ...]:
    where = Where("contact band", point=plain_point(patch.points[index]))
    found = []
    if peak > CAPILLARY_KPA:
        found.append(
            Remark(
                "warning",
                f"The highest pressure, {peak:.1f} kPa, is above {CAPILLARY_KPA} kPa (32 mmHg).",
                where,
            )
        )
    if strain > limit("skin_strain").value:
        text = f"The skin is pressed in by {100 * strain:.0f} % of its thickness: stiffer there than assumed."
        found.append(Remark("warning", text, where))
    if turn > limit("mask_turn").value:
        found.append(
            Remark("note", f"The mask turns by {turn:.1f} deg; move the lugs nearer to the middle.", where)
        )
    return tuple(found)
