"""The range of the fit factor: one prediction for each of many plausible faces, skins and tensions."""

from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import NotConverged
from ..mesh import Floats
from ..settings import check_settings, count, quantity, section
from .contact import solve_contact
from .contact_result import ContactResult, ContactSettings
from .foundation import foundation_of
from .leak import LeakResult, LeakSettings, Medium, leak_through
from .loop import Loop, loop_of, worst_arc
from .patch import REGIONS, ContactPatch, StrapPull, check_pulls
from .skin import region_spread

QUANTILES = (0.05, 0.25, 0.5, 0.75, 0.95)

CAUTION = (
    "A prediction is no fit test. The mask protects nobody until a competent person has tested its fit on "
    "the wearer."
)


@dataclass(frozen=True)
class FitSettings:
    """What is not known, and how often it is drawn."""

    samples: int = count(64, 8, 4096, "How many faces, skins and tensions are drawn.")
    seed: int = count(1, 0, 2**31 - 1, "Seed of the draw: the same seed gives the same range.")
    scan_noise_mm: float = quantity(
        0.5,
        "mm",
        0.0,
        3.0,
        "Standard deviation of the skin's true place about the scan: stereophotogrammetry 0.1 to 0.9, phone "
        "depth "
        "scanners 0.5 to 1.4 (V57).",
    )
    noise_length_mm: float = quantity(
        15.0,
        "mm",
        2.0,
        100.0,
        "Length over which that error stays alike: scanners err in patches, not point by point; assumption.",
    )
    skin_spread: float = quantity(
        1.0, "1", 0.0, 3.0, "Spread of the skin's stiffness, times that of the table; 0 is exactly known."
    )
    tension_spread: float = quantity(
        0.2, "1", 0.0, 0.6, "Relative spread of the tension of all straps together; assumption, no source."
    )
    side_spread: float = quantity(
        0.1, "1", 0.0, 0.5, "Relative spread of each strap's tension by itself; assumption, no source."
    )
    leak: LeakSettings = section(LeakSettings, "Breathing and the air in the gaps.")


@dataclass(frozen=True, eq=False)
class FitRange:
    """What may come out of a fit test.

    Attributes
    ----------
    fit_factors : (m,) one for each sample, 1 where the mask found no hold.
    quantiles : fit factor at the 5, 25, 50, 75 and 95 % quantile.
    chance_pass : share of samples at or above the pass level.
    pass_level : 100 for a half mask.
    nominal : the leak without any error, never to be shown by itself.
    region_share : share of the mean leak by region name.
    station_share : (s,) share of the mean leak of each station.
    worst_arc : first and last station of the shortest arc that carries half of the mean leak.
    worst_arc_share : part of the seal line's length that this arc takes.
    lost : samples in which the mask tipped or slid off.
    caution : to be shown with the range.
    """

    fit_factors: Floats
    quantiles: tuple[float, ...]
    chance_pass: float
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
) -> FitRange:
    """Draw faces, skins and tensions, solve contact and leak for each, and give the range.

    Parameters
    ----------
    patch, pulls : the band and the straps as designed.
    medium : the filter.
    contact : skin, soft layer, friction.
    settings : spreads, samples, seed.
    pass_level : fit factor that passes (half mask 100: 29 CFR 1910.134 App A).

    Raises
    ------
    BadRecipe : a value out of range.
    NotConverged : the mask finds no balance even without any error.
    """
    steps = fit_steps(patch, pulls, medium, contact, settings, pass_level)
    while True:
        try:
            next(steps)
        except StopIteration as done:
            found: FitRange = done.value
            return found


def fit_steps(
    patch: ContactPatch,
    pulls: Sequence[StrapPull],
    medium: Medium,
    contact: ContactSettings | None = None,
    settings: FitSettings | None = None,
    pass_level: float = 100.0,
    heard: Callable[[ContactResult], None] | None = None,
) -> Generator[float, None, FitRange]:
    """As `predict_fit` in steps, for a window that shows progress: yields the share of samples done.

    ``heard`` gets the contact of every sample in which the mask holds.
    """
    chosen, touch = settings or FitSettings(), contact or ContactSettings()
    check_settings(chosen, "fit")
    check_pulls(pulls)
    loop = loop_of(patch)
    nominal = _leak_of(patch, pulls, touch, None, medium, chosen, loop)[1]
    random = np.random.default_rng(chosen.seed)
    noise = gap_noise(patch, loop, chosen, random)
    leaks, factors = [], np.ones(chosen.samples)
    for index in range(chosen.samples):
        yield index / chosen.samples
        skin = np.exp(chosen.skin_spread * region_spread() * _region_draw(random))
        straps = _drawn_pulls(pulls, chosen, random)
        moved = patch.with_gap(patch.gap_mm + noise[index])
        try:
            balance, leak = _leak_of(moved, straps, touch, skin, medium, chosen, loop)
        except NotConverged:
            # This wearer's mask has come off: the sample counts as no protection at all.
            continue
        leaks.append(leak.station_l_min)
        factors[index] = leak.fit_factor
        if heard is not None:
            heard(balance)
    mean = np.mean(leaks, axis=0) if leaks else nominal.station_l_min
    return _range(patch, loop, factors, mean, nominal, pass_level, chosen.samples - len(leaks))


def _leak_of(
    patch: ContactPatch,
    pulls: Sequence[StrapPull],
    touch: ContactSettings,
    skin: Floats | None,
    medium: Medium,
    chosen: FitSettings,
    loop: Loop,
) -> tuple[ContactResult, LeakResult]:
    springs = foundation_of(patch, touch.foundation, skin)
    result = solve_contact(patch, pulls, touch, springs, loop)
    return result, leak_through(loop, result.residual_gap_mm, medium, chosen.leak)


def _region_draw(random: np.random.Generator) -> Floats:
    """Normal draws (6,): half of the variance is the wearer's, half the region's; assumption."""
    return np.asarray(np.sqrt(0.5) * (random.standard_normal() + random.standard_normal(len(REGIONS))))


def _drawn_pulls(
    pulls: Sequence[StrapPull], chosen: FitSettings, random: np.random.Generator
) -> list[StrapPull]:
    common = 1.0 + chosen.tension_spread * random.standard_normal()
    single = 1.0 + chosen.side_spread * random.standard_normal(len(pulls))
    factors = np.clip(common * single, 0.1, 3.0)
    return [pull.scaled(float(factor)) for pull, factor in zip(pulls, factors, strict=True)]


def gap_noise(patch: ContactPatch, loop: Loop, chosen: FitSettings, random: np.random.Generator) -> Floats:
    """Errors of the gap (m, n), mm, that are alike over `noise_length_mm` along and across the band.

    Along the loop: a periodic sum of waves with Gaussian weights. Across the band: an offset and a tilt,
    mixed so that the standard deviation is the same everywhere on average.
    """
    length = float(loop.width_mm.sum())
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(loop.line, axis=0), axis=1))])
    waves = int(np.ceil(1.2 * length / chosen.noise_length_mm)) + 1
    number = np.arange(waves)
    # Fourier transform of exp(-s^2 / (2 l^2)) at the loop's own wave numbers.
    weight = np.exp(-0.5 * (2.0 * np.pi * number * chosen.noise_length_mm / length) ** 2)
    weight = np.sqrt(weight * np.where(number == 0, 1.0, 2.0))
    weight /= np.linalg.norm(weight)
    angle = 2.0 * np.pi * np.outer(number, along / length)
    basis = np.concatenate([np.cos(angle), np.sin(angle)]) * np.concatenate([weight, weight])[:, None]
    draws = random.standard_normal((2, chosen.samples, 2 * waves)) @ basis
    tilt = patch.across_mm / chosen.noise_length_mm
    scale = chosen.scan_noise_mm / np.sqrt(1.0 + float(np.mean(tilt**2)))
    return np.asarray(scale * (draws[0][:, patch.station] + tilt * draws[1][:, patch.station]))


def _range(
    patch: ContactPatch,
    loop: Loop,
    factors: Floats,
    mean: Floats,
    nominal: LeakResult,
    pass_level: float,
    lost: int,
) -> FitRange:
    total = float(mean.sum())
    share = mean / total if total > 0.0 else np.full(len(mean), 1.0 / len(mean))
    region = np.asarray(patch.region[loop.order][loop.starts])
    by_region = {name: float(share[region == code].sum()) for code, name in enumerate(REGIONS)}
    first, last, part = worst_arc(share, loop.width_mm)
    return FitRange(
        factors,
        tuple(float(q) for q in np.quantile(factors, QUANTILES)),
        float(np.mean(factors >= pass_level)),
        pass_level,
        nominal,
        by_region,
        share,
        (first, last),
        part,
        lost,
    )
