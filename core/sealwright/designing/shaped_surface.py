"""A contact surface shaped for even pressure, as data: its offsets, and what the draws make of it."""

from __future__ import annotations

from dataclasses import dataclass

from ..mesh import Floats


@dataclass(frozen=True)
class SurfaceNumbers:
    """What draws that the offsets were not chosen on make of a surface, each under its own straps.

    Attributes
    ----------
    pull_n : sum of the strap pulls.
    worst_cm2_kpa, worst_cm2_error_kpa : median of the highest mean over 1 cm2 of a bony site, and its
        bootstrap error.
    pressure_p95_kpa, pressure_p95_error_kpa : likewise of the pressure that 95 % of the skin stay below.
    share_reaching_100, share_reaching_100_error : share that reaches the fit factor asked for.
    share_holding, share_holding_error : share that holds in every head position.
    layer_over_springs : the largest of three ratios, elastic layer over springs, without errors: of the
        pressure that 95 % stay below, of the highest mean over 1 cm2, and of the highest place.
    layer_peak_kpa : highest place in the elastic layer, edges included, without errors; where the draws
        settle how the pull is shared, the highest up to a tenth of the pull to either side.
    """

    pull_n: float
    worst_cm2_kpa: float
    worst_cm2_error_kpa: float
    pressure_p95_kpa: float
    pressure_p95_error_kpa: float
    share_reaching_100: float
    share_reaching_100_error: float
    share_holding: float
    share_holding_error: float
    layer_over_springs: float | None
    layer_peak_kpa: float | None


@dataclass(frozen=True, eq=False)
class ShapedSurface:
    """What came of shaping a contact surface.

    Attributes
    ----------
    outcome : "kept"; or why the surface stays even: "nothing" found that is better, "not_sure" on other
        draws, "layer" presses harder than the springs say, "no_room" in the cushion, "no_hold" on the face.
    shaped_mm : (h, w) offsets over the chart, mm, outwards positive; None where the surface stays even.
    draws : that the numbers are counted on.
    even, shaped : numbers of the even surface, and of the best shaped one whether it was kept or not; None
        where there is none.
    held_back : name of the limit by which the elastic layer held the offsets back last; empty where it bears
        them as they were found.
    part : of the offsets that were found, that is kept; None where the surface stays even.
    why : the refusal, where there is no hold.
    """

    outcome: str
    shaped_mm: Floats | None = None
    draws: int = 0
    even: SurfaceNumbers | None = None
    shaped: SurfaceNumbers | None = None
    held_back: str = ""
    part: float | None = None
    why: str = ""

    @property
    def kept(self) -> bool:
        """Whether the surface is shaped."""
        return self.shaped_mm is not None
