"""Offsets of a contact surface chosen for a case: by gradients on some draws, the best of a few by others.

What is told of the choice is counted on draws of neither kind, see `predict.shaping`.
"""

from __future__ import annotations

from collections.abc import Callable, Generator
from dataclasses import dataclass, replace

import numpy as np

from ..limits import limit
from ..mesh import Floats
from ..progress import with_steps
from .descent import descent_steps
from .draws import make_draws
from .ensemble import Ensemble
from .even_pressure import EvenPressure, Weights
from .offset_modes import OffsetModes
from .worn import Worn

_SEEDS = (1, 2)  # after that of the settings
_PRESSURE, _PEAK, _LIFT = 0.35, 1.0, 0.2  # of the even surface's highest mean over 1 cm2, see `Weights`
_LIFTING = ((3.0, 3.0), (6.0, 3.0))  # costs of a draw that opens while calm, and that does not hold
_POSITIONS = 2  # head positions that count: those in which the even surface holds least often
_ROUNDS, _RIDGE = 15, 1e-3
_HARM = 0.02  # share of draws that may be lost where others are won: four of those that judge
_MORE = 1.03  # times the pressure that 95 % of the skin stay below


@dataclass(frozen=True)
class Counts:
    """How many draws a surface is chosen on by gradients, judged on among others, and told of in the end."""

    chosen: int = 64
    judged: int = 3 * 64
    told: int = 256


@dataclass(frozen=True)
class Score:
    """What some draws make of a surface.

    Attributes
    ----------
    worst_kpa : median over the draws of the highest mean over 1 cm2.
    p95_kpa : median of the pressure that 95 % of the skin stay below.
    reaching, holding : share of the draws that reach the fit factor asked for, and that hold everywhere.
    """

    worst_kpa: float
    p95_kpa: float
    reaching: float
    holding: float

    @property
    def short(self) -> float:
        """By how much the shares miss what is asked of them."""
        asked = limit("fit_factor_share").value, limit("hold_share").value
        pairs = zip((self.reaching, self.holding), asked, strict=True)
        return sum(max(wanted - share, 0.0) / wanted for share, wanted in pairs)

    def better_than(self, even: Score) -> float:
        """How much better than the even surface: pressure as a share, and missed shares; 0 if not."""
        kept = min(
            self.reaching - min(even.reaching, limit("fit_factor_share").value),
            self.holding - min(even.holding, limit("hold_share").value),
        )
        if kept < -_HARM or self.p95_kpa > _MORE * even.p95_kpa:
            return 0.0
        return max(1.0 - self.worst_kpa / even.worst_kpa + even.short - self.short, 0.0)


def score_of(worn: Worn) -> Score:
    """The score of what all draws make of a surface."""
    rows = worn.good if worn.good.any() else np.ones_like(worn.good)
    return Score(
        float(np.median(worn.worst_cm2_kpa[rows])),
        worn.p95_median_kpa,
        float((worn.fit_factor >= limit("fit_factor").value).mean()),
        float(worn.holds.mean()),
    )


def offsets_steps(
    ensemble: Ensemble, modes: OffsetModes, counts: Counts | None = None
) -> Generator[float, None, Floats | None]:
    """Offsets (n,) mm of a case under its straps; None where none of those tried is better than none.

    In steps that yield the share done.

    Parameters
    ----------
    ensemble : the case; its own draws are not used.
    modes : what the offsets are made of.
    counts : how many draws.
    """
    drawn = counts or Counts()
    judges = with_seed(ensemble, _SEEDS[1], drawn.judged)
    worn = yield from with_steps(judges.worn_steps(), _scaled(0.0, 0.05))
    if not worn.good.any():
        return None
    even, best, found = score_of(worn), 0.0, None
    hardest = [int(p) for p in np.argsort(worn.held_share, kind="stable")[:_POSITIONS]]
    leads = with_seed(ensemble, _SEEDS[0], drawn.chosen)
    kpa = max(even.worst_kpa, 1e-3)
    weights = Weights(_PRESSURE * kpa, _PEAK * kpa, _LIFT * kpa, 0.0, 0.0)
    made, sizes = EvenPressure(leads, hardest, weights), np.zeros(modes.shapes.shape[1])
    for turn, (opening, slipping) in enumerate(_LIFTING):
        made.weights = replace(weights, opening=opening, slipping=slipping)
        done = 0.05 + 0.95 * turn / len(_LIFTING)
        going = descent_steps(_cost(made, modes), sizes, _ROUNDS)
        sizes = yield from with_steps(going, _scaled(done, 0.35))
        for number, part in enumerate((1.0, 0.5)):
            offset = part * modes.offsets(sizes)
            trying = judges.worn_steps(offset_mm=offset)
            worn = yield from with_steps(trying, _scaled(done + 0.35 + 0.05 * number, 0.05))
            gain = score_of(worn).better_than(even)
            if gain > best:
                best, found = gain, offset
    return found


def with_seed(ensemble: Ensemble, more: int, draws: int) -> Ensemble:
    """The same case on other draws: so many, of a seed so much further on."""
    fit = replace(ensemble.settings, seed=(ensemble.settings.seed + more) % 2**31, samples=draws)
    poisson = ensemble.contact.foundation.skin.poisson
    return Ensemble(ensemble.case, ensemble.contact, fit, make_draws(fit, poisson))


def _scaled(low: float, length: float) -> Callable[[float], float]:
    """Shares of a piece of the work as shares of the whole."""
    return lambda share: low + length * share


def _cost(made: EvenPressure, modes: OffsetModes) -> Callable[[Floats], tuple[float, Floats]]:
    """The number that leads the choice, with a little for every millimetre, and its slope with the sizes."""

    def cost(at: Floats) -> tuple[float, Floats]:
        """Both at sizes (modes,)."""
        value, slope = made.at(modes.offsets(at))
        return value + _RIDGE * float(at @ at), modes.to_sizes(at, slope) + 2.0 * _RIDGE * at

    return cost
