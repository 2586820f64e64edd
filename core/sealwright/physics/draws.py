"""The draws: standard numbers from one seed, the same for every design that is offered to them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..mesh import Floats
from ..tables import table
from .fit_settings import FitSettings
from .skin import log_sd, skin_sites

WAVES = 96  # along the seal line: 340 mm / 96 resolves errors that stay alike over 4 mm
ACROSS = 6  # terms across the band, see `gap_error`
PRINT_WAVES = 8
STRAPS = 8  # most straps with a tension of their own
_TAIL = 1.645  # standard deviations from the middle to the 5th and 95th percentile


@dataclass(frozen=True, eq=False)
class Draws:
    """Independent standard normal numbers, m draws; what they mean is written beside them.

    Attributes
    ----------
    scan_size, scan_length : (m,) of the scan's error.
    scan_field : (6, m, 192) of its shape, terms across by waves along.
    print_field : (m, 16) of the printed band's error.
    modulus : (m, t) of every site: person, place and method together, in log units.
    thickness : (m, t) likewise.
    poisson : (m,) ratios, not normal numbers.
    shear, relief, medium, penetration, jaw, turn, cushion, tension : (m,).
    side : (m, 8) of each strap.
    """

    scan_size: Floats
    scan_length: Floats
    scan_field: Floats
    print_field: Floats
    modulus: Floats
    thickness: Floats
    poisson: Floats
    shear: Floats
    relief: Floats
    medium: Floats
    penetration: Floats
    jaw: Floats
    turn: Floats
    cushion: Floats
    tension: Floats
    side: Floats

    @property
    def count(self) -> int:
        """How many draws."""
        return len(self.scan_size)

    def part(self, rows: slice) -> Draws:
        """Some of the draws."""
        cut = {name: value[rows] for name, value in vars(self).items() if name != "scan_field"}
        return Draws(scan_field=self.scan_field[:, rows], **cut)


def make_draws(settings: FitSettings, poisson: float | None = None) -> Draws:
    """Draw everything from the seed of the settings.

    Each kind of number has a generator of its own, so that more of one kind never changes another.

    Parameters
    ----------
    settings : number, seed, spread of the skin.
    poisson : middle of the Poisson ratio; None takes the table's.
    """
    m, seeds = settings.samples, np.random.SeedSequence(settings.seed).spawn(len(Draws.__dataclass_fields__))
    names = list(Draws.__dataclass_fields__)
    generators = {name: np.random.default_rng(seed) for name, seed in zip(names, seeds, strict=True)}
    shapes = {
        "scan_field": (ACROSS, m, 2 * WAVES),
        "print_field": (m, 2 * PRINT_WAVES),
        "side": (m, STRAPS),
    }
    plain = {
        name: generators[name].standard_normal(shapes.get(name, (m,)))
        for name in names
        if name not in ("modulus", "thickness", "poisson")
    }
    return Draws(
        **plain,
        modulus=_tissue_draw(generators["modulus"], m, settings.skin_spread, 0),
        thickness=_tissue_draw(generators["thickness"], m, settings.skin_spread, 1),
        poisson=_poisson_draw(generators["poisson"], m, settings.skin_spread, poisson),
    )


def _tissue_draw(random: np.random.Generator, m: int, spread: float, which: int) -> Floats:
    """Logarithms (m, t) of factors on modulus (0) or thickness (1) of every site.

    Half of the variance between people is the person's, half the place's (assumption); the modulus also
    carries the factor between methods of measurement, common to all sites.
    """
    size = np.array([site.log_spreads[which] for site in skin_sites()])
    person = random.standard_normal((m, 1))
    place = random.standard_normal((m, len(size)))
    drawn = np.sqrt(0.5) * (person + place) * size
    if which == 0:
        row = table("skin")["method_factor"]
        drawn = drawn + log_sd((row["typical"], row["low"], row["high"])) * random.standard_normal((m, 1))
    return np.asarray(spread * drawn)


def _poisson_draw(random: np.random.Generator, m: int, spread: float, middle: float | None) -> Floats:
    """Poisson ratios (m,): the distance from 0.5 is drawn in its logarithm, each side with its own spread."""
    row = table("skin")["poisson"]
    typical = row["typical"] if middle is None else middle
    normal = spread * random.standard_normal(m) / _TAIL
    softer = np.log((0.5 - row["low"]) / (0.5 - row["typical"]))
    stiffer = np.log((0.5 - row["typical"]) / (0.5 - row["high"]))
    away = (0.5 - typical) * np.exp(normal * np.where(normal > 0.0, softer, stiffer))
    return np.asarray(np.clip(0.5 - away, 0.0, 0.4995))


def factor_within(normal: Floats, spread: float) -> Floats:
    """Factors about 1, nine of ten of which lie within ``spread`` up and down."""
    return np.asarray(np.exp(normal * np.log(spread) / _TAIL))
