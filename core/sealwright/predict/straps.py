"""The wearer's straps: where they lead from the lugs, and how hard they pull.

There are no landmarks at the back of a head on a face scan. The upper straps are taken to run over the ears
to the crown, the lower ones under the ear lobes to the nape; the places where they pass the ears follow from
the face length by proportions of an average adult (table below, from memory, and measured on one head of the
statistical head model; hair is not in it). Where the straight way would cut through the cheek, the strap lies
on it as a taut string does, and leaves the lug along the tangent.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..designing.design import Design
from ..errors import DoesNotFit
from ..face.surface import FaceSurface
from ..hardware.allowance import allowance_of
from ..hardware.lugs import bar_middle
from ..mesh import Floats
from ..physics.patch import StrapPull, strap_pull_of
from ..physics.prediction_settings import StrapAssumptions

OVER_EAR_MM = (74.0, 105.0, 60.0)
"""Where an upper strap passes above the wearer's left ear, face frame, for a face length of 115 mm."""

UNDER_EAR_MM = (66.0, 95.0, -28.0)
"""Where a lower strap passes under the wearer's left ear lobe on its way to the nape, likewise."""

STARTING_N = 4.5
"""Pull of one strap end that an automatic one is looked for from: nine of ten end within 20 % of it."""

EVEN_SHARE = 0.5
"""Share of the pull on the upper straps that an automatic one is looked for from."""

_STEP_MM = 2.0  # at which the way of a strap is held against the skin
_FREE_MM = 6.0  # of the way next to the lug, which stands off the skin and is not looked at


def strap_pulls(design: Design, assumed: StrapAssumptions | None = None) -> list[StrapPull]:
    """The straps of a design at the bars of its lugs; an automatic pull or share as it is looked for from.

    Parameters
    ----------
    design : with at least one pair of lugs.
    assumed : how the tension is shared.

    Raises
    ------
    DoesNotFit : the design has no lugs.
    BadRecipe : a tension out of range.
    """
    if not design.straps:
        raise DoesNotFit(
            "The design has no strap lugs, so nothing holds it on the face.",
            "straps",
            "Set the recipe's straps.lug.count to 2 or more.",
        )
    chosen = assumed or StrapAssumptions()
    asked = design.recipe.straps.tension_n
    tension = STARTING_N if asked is None else asked
    lug, allowance = design.recipe.straps.lug, allowance_of(design.recipe.allowance)
    bars = [
        point.frame[:3, :3] @ bar_middle(lug, allowance, point.wall) + point.frame[:3, 3]
        for point in design.straps
    ]
    share = EVEN_SHARE if chosen.upper_share is None else chosen.upper_share
    return pulls_at(bars, design.prepared.face, design.prepared.size, tension, share)


def pulls_at(
    bars: Sequence[Floats], face: FaceSurface, size: float, tension_n: float, upper_share: float = EVEN_SHARE
) -> list[StrapPull]:
    """Pulls of straps, upper pair first.

    Parameters
    ----------
    bars : (3,) mm, where each strap is held, left and right in turn.
    face : the skin the straps may lie on.
    size : face length over 115 mm.
    tension_n : mean pull of one strap end.
    upper_share : share of the sum that the upper half of the pairs takes.
    """
    pairs = (len(bars) + 1) // 2
    pulls = []
    for number, bar in enumerate(bars):
        height = (number // 2) / (pairs - 1) if pairs > 1 else 0.5
        target = _target(height, size) * np.array([np.sign(bar[0]) or 1.0, 1.0, 1.0])
        way = taut_direction(face, bar, target)
        pull = tension_n * _part(number // 2, pairs, upper_share)
        pulls.append(strap_pull_of(bar, way, pull, f"strap {number + 1}"))
    return pulls


def shared_pulls(pulls: Sequence[StrapPull], upper_share: float) -> tuple[StrapPull, ...]:
    """The same straps and sum of pulls, shared otherwise.

    Parameters
    ----------
    pulls : upper pair first, left and right in turn.
    upper_share : share of the sum that the upper half of the pairs takes.
    """
    pairs, mean = (len(pulls) + 1) // 2, sum(pull.tension_n for pull in pulls) / len(pulls)
    parts = [mean * _part(number // 2, pairs, upper_share) for number in range(len(pulls))]
    return tuple(replace(pull, tension_n=part) for pull, part in zip(pulls, parts, strict=True))


def _target(height: float, size: float) -> Floats:
    """Where a strap of the wearer's left passes the ear; ``height`` runs from 0 (upper) to 1 (lower)."""
    return size * ((1.0 - height) * np.array(OVER_EAR_MM) + height * np.array(UNDER_EAR_MM))


def _part(pair: int, pairs: int, upper_share: float) -> float:
    """Factor on the mean pull for a pair; the middle one of an odd number keeps the mean."""
    if pairs < 2 or 2 * pair + 1 == pairs:
        return 1.0
    return 2.0 * upper_share if 2 * pair + 1 < pairs else 2.0 * (1.0 - upper_share)


def taut_direction(face: FaceSurface, start: Floats, target: Floats) -> Floats:
    """Unit direction (3,) in which a taut string from a lug to a target leaves, lying on the skin between.

    Parameters
    ----------
    face : the skin; where there is none the string runs free.
    start, target : (3,) mm, face frame.
    """
    way = target - start
    length = float(np.linalg.norm(way))
    along = np.arange(_FREE_MM, length, _STEP_MM)
    places = start + along[:, None] * (way / length)
    pq, _ = face.chart.place_of(places)
    normals = face.normal_at(pq)
    slant = (face.chart.direction_at(pq) * normals).sum(-1)
    depth = np.where(face.is_known(pq), -face.height_of(places) * slant, 0.0)
    if len(depth) == 0 or depth.max() <= 0.0:
        return np.asarray(way / length)
    # The steepest line from the lug to skin that stands in the way touches it in one point: the tangent.
    steepest = int(np.argmax(depth / along))
    lifted = places[steepest] + depth[steepest] * normals[steepest] - start
    return np.asarray(lifted / np.linalg.norm(lifted))
