"""A thread as a solid, ours against the modeller's own twisted extrusion of the same level section.

    python benchmarks/threads.py

Both give five turns with as many facets round the axis and layers along it, in the same run; a ratio under
1 means ours takes less. The twisted extrusion only rounds what ours places exactly: its ridges lie on the
chords of the layers. The second ratio is ten turns over five of ours: 2 where cost grows with the length.
"""

from __future__ import annotations

import math
import sys

import manifold3d
import numpy as np
from sealwright.hardware.screw import Helix, screw
from sealwright.hardware.threads import printed_thread
from sealwright.solids.boolean import Solid
from timing import best_of

SEGMENTS, RUNS = 96, 7
THREAD = printed_thread(50, 3)


def ours(turns: int) -> Solid:
    """A threaded rod as the ports have it."""
    profile, top = THREAD.male, turns * THREAD.pitch_mm
    reach = profile.top_mm + 1.0
    helix = Helix(profile.line(), THREAD.pitch_mm, THREAD.starts, 0.0)
    return screw(helix, [(0, 0), (reach, 0), (reach, top), (0, top)], "bolt", SEGMENTS)


def twisted(turns: int) -> manifold3d.Manifold:
    """The level section of the same thread, extruded with a twist of one turn for each lead."""
    half = THREAD.male.half_line()
    angle = 2.0 * math.pi * np.arange(SEGMENTS) / SEGMENTS
    along = np.abs((angle / (2.0 * math.pi) + 0.5) % 1.0 - 0.5) * THREAD.pitch_mm
    radius = np.interp(along, half[:, 0], half[:, 1])
    section = manifold3d.CrossSection([np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])])
    made = manifold3d.Manifold.extrude(
        section, turns * THREAD.lead_mm, turns * SEGMENTS, 360.0 * turns, (1.0, 1.0)
    )
    made.num_tri()  # the modeller works when asked
    return made


def main() -> int:
    """Print the ratios."""
    five, ten = (best_of(RUNS, lambda n=n: ours(n).volume) for n in (5, 10))
    other = best_of(RUNS, lambda: twisted(5))
    sys.stdout.write(
        f"thread, 5 turns of {SEGMENTS} facets: ours over twisted extrusion {five.cpu_s / other.cpu_s:.2f} "
        f"({1000 * five.cpu_s:.0f} ms against {1000 * other.cpu_s:.0f} ms)\n"
        f"ten turns over five: {ten.cpu_s / five.cpu_s:.2f}\n"
    )
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
