"""How hard the straps must be pulled: to close the seal, and until the skin is pressed too hard."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import NotConverged
from ..settings import check_settings, quantity
from ..values import require_range
from .contact import solve_contact
from .contact_result import CAPILLARY_KPA, ContactResult, ContactSettings
from .foundation import foundation_of
from .loop import loop_of
from .patch import ContactPatch, StrapPull, check_pulls


@dataclass(frozen=True)
class TensionSettings:
    """How the tension is searched."""

    most_total_n: float = quantity(
        60.0,
        "N",
        1.0,
        100.0,
        "Largest sum of strap pulls that is tried; usual sum 5 to 20 N (common practice).",
    )
    precision: float = quantity(0.005, "1", 0.0005, 0.1, "Wanted precision of the tension, as a share of it.")


@dataclass(frozen=True)
class TensionFound:
    """A tension that was looked for.

    Attributes
    ----------
    factor : common factor on the given strap pulls; None where no tension up to the limit does it.
    total_n : sum of the strap pulls at that factor; None likewise.
    text : one sentence for the report.
    """

    factor: float | None
    total_n: float | None
    text: str


def tension_to_close(
    patch: ContactPatch,
    pulls: Sequence[StrapPull],
    settings: ContactSettings | None = None,
    search: TensionSettings | None = None,
) -> TensionFound:
    """Least common strap factor at which every station of the seal line touches with pressure.

    Raises
    ------
    BadRecipe : a tension or setting out of range, or no tension at all to scale.
    NotConverged : the pull tips or slides the mask off at every tension.
    """
    found, last = _search(patch, pulls, settings, search, lambda result: result.share_closed >= 1.0)
    if found is not None:
        total = found * _total(pulls)
        return TensionFound(found, total, f"The seal closes at {total:.1f} N of strap pull in all.")
    open_stations = np.flatnonzero(~last.station_closed)
    widest = int(open_stations[np.argmax(last.station_gap_mm[open_stations])])
    x, y, z = loop_of(patch).line[widest]
    text = (
        f"The seal does not close at any tension up to the limit: {100 * last.share_closed:.1f} % of the "
        f"line "
        f"touches, and {last.station_gap_mm[widest]:.2f} mm stay open at ({x:.0f}, {y:.0f}, {z:.0f}) mm."
    )
    return TensionFound(None, None, text)


def tension_to_hold(
    patch: ContactPatch,
    pulls: Sequence[StrapPull],
    settings: ContactSettings | None = None,
    search: TensionSettings | None = None,
) -> TensionFound:
    """Least common strap factor at which every station presses harder than breath pressure plus the margin.

    Raises
    ------
    BadRecipe : a tension or setting out of range, or no tension at all to scale.
    NotConverged : the pull tips or slides the mask off at every tension.
    """
    chosen = settings or ContactSettings()
    wanted = chosen.breath_pa + chosen.seal_margin_pa
    found, last = _search(patch, pulls, chosen, search, lambda result: result.share_held >= 1.0)
    if found is not None:
        total = found * _total(pulls)
        text = f"Every part of the seal presses above {wanted:.0f} Pa at {total:.1f} N of strap pull in all."
        return TensionFound(found, total, text)
    text = (
        f"At no tension up to the limit does every part of the seal press above {wanted:.0f} Pa; "
        f"{100 * last.share_held:.1f} % of the line does."
    )
    return TensionFound(None, None, text)


def tension_at_pressure(
    patch: ContactPatch,
    pulls: Sequence[StrapPull],
    limit_kpa: float = CAPILLARY_KPA,
    settings: ContactSettings | None = None,
    search: TensionSettings | None = None,
) -> TensionFound:
    """Common strap factor at which the highest pressure passes a limit (default: capillary closing).

    Raises
    ------
    BadRecipe : a tension, limit or setting out of range, or no tension at all to scale.
    NotConverged : the pull tips or slides the mask off at every tension.
    """
    limit = require_range(limit_kpa, 0.1, 200.0, "kPa", "limit_kpa")
    found, last = _search(patch, pulls, settings, search, lambda result: result.peak_kpa >= limit)
    if found is not None:
        total = found * _total(pulls)
        return TensionFound(
            found, total, f"The highest pressure passes {limit:g} kPa at {total:.1f} N of strap pull."
        )
    text = f"The highest pressure reaches only {last.peak_kpa:.2f} of {limit:g} kPa at every tension tried."
    return TensionFound(None, None, text)


def _total(pulls: Sequence[StrapPull]) -> float:
    return sum(pull.tension_n for pull in pulls)


def _search(
    patch: ContactPatch,
    pulls: Sequence[StrapPull],
    settings: ContactSettings | None,
    search: TensionSettings | None,
    reached: Callable[[ContactResult], bool],
) -> tuple[float | None, ContactResult]:
    """Smallest factor at which a condition holds: a rising ladder of tensions, then halving.

    More tension can tilt a mask and open another place, so the ladder is climbed from below and the first
    rung that holds is taken. A rung at which the mask slides or tips does not hold.
    """
    chosen, limits = settings or ContactSettings(), search or TensionSettings()
    check_settings(limits, "tension")
    check_pulls(pulls)
    total = require_range(_total(pulls), 1e-3, 1e3, "N", "sum of strap tensions")
    springs, loop = foundation_of(patch, chosen.foundation), loop_of(patch)

    def attempt(factor: float) -> ContactResult:
        """The contact with all pulls times a factor."""
        return solve_contact(patch, [p.scaled(factor) for p in pulls], chosen, springs, loop)

    ladder = np.geomspace(0.1 / total, limits.most_total_n / total, 14)
    low, last = 0.0, None
    refusal = NotConverged("No tension was tried.", "straps", "Give the straps a tension above 0 N.")
    for rung in ladder:
        try:
            last = attempt(float(rung))
        except NotConverged as error:
            refusal, low = error, float(rung)
            continue
        if reached(last):
            if low == 0.0:
                # The lightest pull does it already; there is nothing to halve.
                return float(rung), last
            return _halve(attempt, reached, low, float(rung), limits.precision), last
        low = float(rung)
    if last is None:
        raise refusal
    return None, last


def _halve(
    attempt: Callable[[float], ContactResult],
    reached: Callable[[ContactResult], bool],
    low: float,
    high: float,
    precision: float,
) -> float:
    while high - low > precision * high:
        middle = 0.5 * (low + high)
        try:
            holds = reached(attempt(middle))
        except NotConverged:
            # Too slack to hold its place is too slack to seal.
            holds = False
        low, high = (low, middle) if holds else (middle, high)
    return high
