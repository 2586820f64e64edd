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


def lip_steps(poured_ml: float, poured_g: float, vents: int) -> tuple[str, ...]:
    """Casting a silicone lip."""
    return (
        "Print mould-a and mould-b as they lie in the file, cavity up, in fine layers; a tenth of infill is "
        "enough. Rub the cavity smooth, wipe it, and coat it with a thin clear varnish that cures in full.",
        "Try a drop of the silicone on the coated mould first: sulphur, amines, tin and fresh resin prints "
        "keep addition-cured silicone from setting. Then use a release agent that is declared for skin.",
        "Close the halves dry: the keys fit in one way only, the rims must meet without a gap all round. "
        "Clamp on the rims, near the keys.",
        f"Weigh out {poured_g:.0f} g ({poured_ml:.0f} ml) of silicone, both parts together; cavity, "
        "channels, a tenth of waste and what stays in the cup are in it. Mix slowly, let the bubbles rise "
        "or draw them off.",
        f"Pour in a thin stream into the wide hole, mould-b on top, until silicone stands in all {vents} "
        "small vents; tap the mould, and close a vent with tape once it runs clear.",
        "Let it cure as long as the maker says, and longer when it is cold. Pull the halves apart straight, "
        "along the keys; cut off sprues and flash, never on the skin side's edge.",
        "Finish the cure as the maker says (for many an hour or more of warmth), wash with soap, rinse, air "
        "for days. No smell may be left.",
        "Glue the lip to the hard band with a silicone adhesive declared for skin contact, all round without "
        "a gap; roughen and prime the print first. Let it cure and air.",
        "Pull at the lip all round: what lifts leaks. Look for tears at each cleaning.",
    )


def liner_steps(depth_mm: float) -> tuple[str, ...]:
    """Printing a liner and keying it in."""
    return (
        "Print the liner in the soft material, solid, in fine layers; take the supports off its edges only.",
        "Smooth the skin side, or coat it with a skin-safe elastic coat: layer lines leak and hold soil.",
        f"Press the ridge into the groove of the hard band ({depth_mm:.1f} mm deep), from the chin round "
        "to the nose; a drop of soap water helps and must dry.",
        "The ridge holds the liner but does not seal: lay a thin bead of silicone adhesive declared for skin "
        "contact along both edges of the band before the last press.",
        "Take it out for cleaning only if it is not glued; change it when it no longer springs back.",
    )
