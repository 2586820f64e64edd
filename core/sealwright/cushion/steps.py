"""How a cushion is made and put on, in words."""

from __future__ import annotations

from .pattern import Pattern
from .settings import Cushion


def foam_steps(cushion: Cushion, pattern: Pattern) -> tuple[str, ...]:
    """Cutting and gluing a foam strip."""
    names = ", ".join(piece.name for piece in pattern.pieces)
    joints = ", ".join(piece.ends[0] for piece in pattern.pieces)
    return (
        "Print cushion-pattern.pdf at 100 % without fitting to the page and measure the 100 mm line on it.",
        f"Lay the pattern on the skin side of {cushion.thickness_mm:g} mm foam, face up, and cut pieces "
        f"{names} along the red line with a fresh blade, square to the foam, without pressing it together.",
        "Bend each piece onto the hard band dry. Joints of the same letter meet; the steps must lie in each "
        f"other without a gap (joints {joints}).",
        "Put the adhesive on the other side, inside the blue line only: double-sided tape that its maker "
        "declares for skin contact, or glue that is free of solvent when cured. None may come out.",
        "Press the pieces on from one joint to the next, without pulling: the pattern is exact, lengths "
        f"change by less than {100.0 * pattern.stretch_p95:.1f} % for 95 % of it.",
        "Close the joints with a thin line of the same glue over the whole height of the step, skin side "
        "last; a joint that gapes leaks.",
        "Look through against a lamp: no light may show between foam and band or in a joint.",
        "Change the strip when it is torn, soiled, or no longer springs back to its thickness.",
    )
