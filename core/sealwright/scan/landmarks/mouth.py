"""The line between the lips and its corners: a valley of the depth map followed outward from the middle."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ...mesh import Bools, Floats
from .depth_map import STEP_MM, DepthMap
from .midline import Spot

VALLEY_SIGMA_MM = 1.0
CORNER_SHARE, BEYOND_MM = 0.37, 1.0
"""The valley ends where its curvature falls to this share of what it is near the middle; the corner lies
inside of that by this and more, on open heads and sensor scans as where the line fades by steps."""

LIFT_MM = 0.8
"""The corner lies so much above the floor of the valley that ends there (half of the varied open heads)."""

SHARP_SHARE = 0.5
"""An end where so much of the valley is lost at once is as sharp as those of open heads and sensor scans."""

USUAL_DROP_MM, DROP_SPREAD_MM = 20.0, 6.0
"""Drop from the nose base to the line between the lips, and a generous spread (closed lips of invented
heads 15 to 24 mm, computed)."""

OPEN_OF_7 = 6
"""Of the seven middle columns so many are without skin where a mouth is open; its edges are ragged."""

ALIKE_MM, SMILE_SHARE = 3.0, 0.7
"""Corners whose distances from the middle differ by about so much may be those of a smile; what a width out
of the usual is worth then (invented heads 1000 to 1049, varied open heads)."""

MOST_CROSSED = 12
"""Columns of missing skin across which the valley is taken to go on."""

USUAL_HALF_WIDTH_MM, HALF_WIDTH_SPREAD_MM = 25.0, 3.5
"""Half of the mean lip length of docs/standards 1.2 (51.1 and 48.0 mm, from memory), a generous spread."""


def mouth_landmarks(depth: DepthMap, size: float, subnasale: float) -> dict[str, Spot]:
    """Stomion and both mouth corners; empty where no line between the lips is seen."""
    valley = _valley(depth.smoothed(VALLEY_SIGMA_MM))
    hole = depth.trust == 0
    middle = len(depth.x) // 2
    stomion = _stomion(depth, valley, hole, middle, subnasale, size)
    if stomion is None:
        return {}
    tracks = [_follow(depth, valley, hole, middle, side, stomion) for side in (1, -1)]
    # Both halves share one measure of how deep the line is, so that one faint side is not followed too far.
    level = float(np.median(np.concatenate([np.minimum(t[1][2:14], 0.35) for t in tracks])))
    found = {"stomion": Spot(0.0, stomion, float(np.clip(level / 0.15, 0.0, 1.0)))}
    left, right = (
        _corner(z, strength, level, side, size) for side, (z, strength) in zip((1, -1), tracks, strict=True)
    )
    # Corners that are no mirror images of each other, or far above or below the middle, are doubtful both.
    apart = ((left.x + right.x) / 6.0) ** 2 + ((left.z - right.z) / 5.0) ** 2
    drop = 0.5 * (left.z + right.z) - stomion + 3.0 * size
    doubt = float(np.exp(-0.5 * (apart + (drop / 6.0) ** 2)))
    found["stomion"] = replace(found["stomion"], strength=found["stomion"].strength * doubt**0.5)
    usual = _usual_width(left.x - right.x, abs(left.x + right.x), size)
    found["cheilion_left"] = replace(left, strength=left.strength * doubt * usual)
    found["cheilion_right"] = replace(right, strength=right.strength * doubt * usual)
    return found


def _valley(height: Floats) -> Floats:
    """Curvature across the mouth line (second derivative along z), 1/mm; NaN becomes 0."""
    return np.nan_to_num(np.gradient(np.gradient(height, STEP_MM, axis=0), STEP_MM, axis=0))


def _stomion(
    depth: DepthMap, valley: Floats, hole: Bools, middle: int, subnasale: float, size: float
) -> float | None:
    """Height of the line between the lips at the midline: middle of an open mouth, or the sharpest valley."""
    window = (depth.z > subnasale - 48.0 * size) & (depth.z < subnasale - 9.0 * size)
    open_rows = np.flatnonzero((hole[:, middle - 3 : middle + 4].sum(axis=1) >= OPEN_OF_7) & window)
    # An opening has lips on both sides; a hole that runs on below is the end of the scan.
    if len(open_rows) >= 4 and open_rows[0] > np.flatnonzero(window)[0]:
        return float(depth.z[open_rows].mean())
    window &= depth.z > subnasale - 34.0 * size
    band = valley[:, middle - 7 : middle + 8].mean(axis=1)
    rows = np.flatnonzero(window)
    if len(rows) < 5:
        return None
    # On a coarse scan the groove over the chin is as sharp a valley as the lips: the usual place decides.
    off = (subnasale - USUAL_DROP_MM * size - depth.z[rows]) / (DROP_SPREAD_MM * size)
    top = int(rows[np.argmax(band[rows] * np.exp(-0.5 * off**2))])
    return float(depth.z[top] + STEP_MM * _parabola(band, top)) if band[top] > 0.01 else None


def _parabola(values: Floats, top: int) -> float:
    """Shift of the maximum from the sample ``top`` by a parabola through three samples, within one step."""
    if not 0 < top < len(values) - 1:
        return 0.0
    before, here, after = values[top - 1 : top + 2]
    bend = before - 2.0 * here + after
    return float(np.clip(0.5 * (before - after) / bend, -1.0, 1.0)) if bend < 0 else 0.0


def _follow(
    depth: DepthMap, valley: Floats, hole: Bools, middle: int, side: int, start: float
) -> tuple[Floats, Floats]:
    """Follow the valley outward column by column: its height and curvature (k,).

    An open mouth is a hole that begins at the midline; any other hole is crossed as if the valley went on.
    """
    heights, strengths, level, strength = [], [], start, 0.0
    opened, crossed = True, 0
    for step in range(42):
        column = middle + side * step
        if not 0 <= column < len(depth.x):
            break
        near = np.flatnonzero(np.abs(depth.z - level) <= 2.5)
        opening = hole[:, column] & (np.abs(depth.z - level) <= 8.0)
        opened = opened and bool(opening.any())
        if opened:
            place, strength = float(depth.z[opening].mean()), 1.0
        elif len(near) and hole[near, column].any() and step > 0 and crossed < MOST_CROSSED:
            place, crossed = level, crossed + 1
        else:
            top = int(near[np.argmax(valley[near, column])]) if len(near) else 0
            place = float(depth.z[top] + STEP_MM * _parabola(valley[:, column], top))
            strength = float(valley[top, column])
        heights.append(place)
        strengths.append(strength)
        level = 0.5 * level + 0.5 * place
    return np.array(heights), np.array(strengths)


def _corner(z: Floats, strength: Floats, level: float, side: int, size: float) -> Spot:
    """Where the valley ends, drawn a little towards the usual width the fainter the end is."""
    limit = CORNER_SHARE * level
    below = strength < limit
    low = np.flatnonzero(below[8:-1] & below[9:]) + 8  # two columns: a single one is noise
    usual, spread = USUAL_HALF_WIDTH_MM * min(size, 1.05), HALF_WIDTH_SPREAD_MM
    if len(low) == 0:
        x, sharp = usual, 0.0
    else:
        index = int(low[0])
        drop = strength[index - 1] - strength[index]
        x = index - 1 + float(np.clip((strength[index - 1] - limit) / max(drop, 1e-9), 0.0, 1.0))
        # How much of the valley is lost within 5 mm about the end says how sharp the end is.
        after = strength[min(index + 2, len(strength) - 1)]
        lost = (strength[max(index - 3, 0)] - after) / max(SHARP_SHARE * level, 1e-9)
        sharp = float(np.clip(lost, 0.05, 1.0))
    doubt = 1.5 + 2.0 * (1.0 - sharp)
    pull = doubt**2 / (doubt**2 + spread**2)
    x = (1.0 - pull) * (x * STEP_MM - BEYOND_MM * min(size, 1.05)) + pull * usual
    height = float(np.interp(x, np.arange(len(z)) * STEP_MM, z)) + LIFT_MM * size
    return Spot(side * x, height, sharp * float(np.clip(level / 0.12, 0.0, 1.0)))


def _usual_width(width: float, uneven: float, size: float) -> float:
    """1 for a mouth of usual width, less for others; a smile is wide on both sides alike, a crease on one."""
    off = (0.5 * width - USUAL_HALF_WIDTH_MM * min(size, 1.05)) / (2.0 * HALF_WIDTH_SPREAD_MM)
    likely = float(np.exp(-0.5 * off**2))
    alike = float(np.exp(-0.5 * (uneven / ALIKE_MM) ** 2))
    return max(likely, SMILE_SHARE * alike)
