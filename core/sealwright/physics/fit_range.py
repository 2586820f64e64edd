"""The range of the fit factor: what a fit test may find on plausible wearers, scans and straps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..mesh import Floats
from ..settings import check_settings
from .breathing import AirwaySettings
from .contact import solve_contact
from .contact_result import ContactSettings
from .ensemble import Ensemble, WornCase
from .filter_case import FilterCase
from .fit_settings import FitSettings
from .gap_error import CLEAR_NOISE_MM
from .leak import LeakResult, Medium, leak_through
from .loop import Loop, worst_arc
from .patch import REGIONS, ContactPatch, StrapPull, check_pulls
from .worn import Worn, quantile_of, share_of

QUANTILES = (0.05, 0.25, 0.5, 0.75, 0.95)

CAUTION = (
    "A prediction is no fit test. The mask protects nobody until a competent person has tested its fit on "
    "the wearer."
)


@dataclass(frozen=True, eq=False)
class FitRange:
    """What may come out of a fit test.

    Attributes
    ----------
    fit_factors : (m,) overall factor of the exercises for each draw, leak only; 1 where the mask found no
        hold.
    quantiles, quantile_errors : fit factor at the 5, 25, 50, 75 and 95 % quantile, with bootstrap errors.
    total_quantiles : the same with what the filter lets through: the protection, where the other judges the
        seal.
    chance_pass, chance_error : share of draws at or above the pass level, with its standard error.
    pass_level : 100 for a half mask.
    nominal : the leak without any error, never to be shown by itself.
    region_share : share of the mean leak by region name.
    station_share : (s,) share of the mean leak of each station.
    worst_arc : first and last station of the shortest arc that carries half of the mean leak.
    worst_arc_share : part of the seal line's length that this arc takes.
    lost : draws in which the mask tipped or slid off.
    caution : to be shown with the range.
    """

    fit_factors: Floats
    quantiles: tuple[float, ...]
    quantile_errors: tuple[float, ...]
    total_quantiles: tuple[float, ...]
    chance_pass: float
    chance_error: float
    pass_level: float
    nominal: LeakResult
    region_share: dict[str, float]
    station_share: Floats
    worst_arc: tuple[int, int]
    worst_arc_share: float
    lost: int
    caution: str = CAUTION


def predict_fit(
    patch: ContactPatch,
    pulls: Sequence[StrapPull],
    medium: Medium,
    contact: ContactSettings | None = None,
    settings: FitSettings | None = None,
    pass_level: float = 100.0,
    *,
    noise_mm: float = CLEAR_NOISE_MM,
) -> FitRange:
    """The range for a band, straps and a filter of known resistance and penetration; weight is left out.

    Parameters
    ----------
    patch, pulls : the band and the straps as designed.
    medium : the filter.
    contact : skin, soft layer, friction.
    settings : spreads, samples, seed.
    pass_level : fit factor that passes (half mask 100: 29 CFR 1910.134 App A).
    noise_mm : white noise of the scan under the band.

    Raises
    ------
    BadRecipe : a value out of range.
    NotConverged : the mask finds no balance even without any error.
    """
    chosen, touch = settings or FitSettings(), contact or ContactSettings()
    check_settings(chosen, "fit")
    check_pulls(pulls)
    per, passing = medium.resistance_pa_s_m, medium.penetration
    medium.pressure_per_flow()
    exact = FilterCase((per, per, per), medium.area_cm2, (passing,) * 3, 10.0, AirwaySettings())
    ensemble = Ensemble(WornCase(patch, tuple(pulls), exact, noise_mm=noise_mm), touch, chosen)
    nominal = nominal_leak(ensemble, medium)
    return fit_range_of(ensemble, ensemble.worn(states="seal"), nominal, pass_level)


def nominal_leak(ensemble: Ensemble, medium: Medium) -> LeakResult:
    """The leak of a design without any error.

    Raises
    ------
    NotConverged : the mask finds no balance.
    """
    case, loop = ensemble.case, ensemble.loop
    found = solve_contact(case.patch, case.pulls, ensemble.contact, loop=loop)
    return leak_through(loop, found.residual_gap_mm, medium, ensemble.settings.leak)


def fit_range_of(ensemble: Ensemble, worn: Worn, nominal: LeakResult, pass_level: float) -> FitRange:
    """The range from what is known of every draw."""
    patch, loop = ensemble.case.patch, ensemble.loop
    quantiles = [quantile_of(worn.fit_factor, share) for share in QUANTILES]
    chance = share_of(worn.fit_factor >= pass_level)
    share, by_region = leak_shares(patch, loop, worn.station_leak_l_min)
    first, last, part = worst_arc(share, loop.width_mm)
    return FitRange(
        worn.fit_factor,
        tuple(q.value for q in quantiles),
        tuple(q.error for q in quantiles),
        tuple(float(np.quantile(worn.total_factor, share)) for share in QUANTILES),
        chance.value,
        chance.error,
        pass_level,
        nominal,
        by_region,
        share,
        (first, last),
        part,
        int((~worn.good).sum()),
    )


def leak_shares(patch: ContactPatch, loop: Loop, leak_l_min: Floats) -> tuple[Floats, dict[str, float]]:
    """Share of the leak of each station (s,), and by region."""
    total = float(leak_l_min.sum())
    share = leak_l_min / total if total > 0.0 else np.full(len(leak_l_min), 1.0 / len(leak_l_min))
    region = np.asarray(patch.region[loop.order][loop.starts])
    return share, {name: float(share[region == code].sum()) for code, name in enumerate(REGIONS)}
