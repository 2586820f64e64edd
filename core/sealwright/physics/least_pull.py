"""The least pull of the straps that holds in nearly all draws, and how to set it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from .draws import make_draws
from .ensemble import Ensemble
from .statics import GRAVITY_M_S2
from .tension import TensionSettings
from .worn import Worn

WANTED = 0.95
DRAWS = 256  # of which the share is taken while pulls are tried
_STEPS = 5

PROCEDURE = (
    "Put the mask on and let somebody hook a luggage scale into the loose end of one strap, in line with it.",
    "Pull until the scale reads the mass given for that strap, let the webbing slide into the buckle "
    "there, and mark "
    "the webbing at the buckle with a pen.",
    "Do the same on the other straps, both sides alike, and check the first again: each changes the others.",
    "With elastic webbing also measure 100 mm of the slack strap, then its length under that pull: the "
    "difference is the stretch to look for at every donning. Webbing loses pull with use: measure "
    "again monthly.",
)


@dataclass(frozen=True)
class LeastPull:
    """Least pull of every strap for one aim.

    Attributes
    ----------
    pulls_n : of each strap, in their order; empty where no pull up to the limit does it.
    total_n : their sum; None likewise.
    share : share of the draws in which the aim is met there, or the best share that any pull reaches.
    at_total_n : the sum at which that share is reached.
    """

    pulls_n: tuple[float, ...]
    total_n: float | None
    share: float
    at_total_n: float

    @property
    def readings_kg(self) -> tuple[float, ...]:
        """What a luggage scale reads on each strap, kg."""
        return tuple(pull / GRAVITY_M_S2 for pull in self.pulls_n)


@dataclass(frozen=True)
class LeastPulls:
    """Least pulls to hold (whole line pressed everywhere) and to stay (in place, sealed or not)."""

    hold: LeastPull
    stay: LeastPull


def least_pulls(ensemble: Ensemble, search: TensionSettings | None = None) -> LeastPulls:
    """Least common factor on the strap pulls that holds, and that stays, in 95 % of the draws.

    More pull does not always hold better (it also tilts a mask), so a ladder is climbed from below and the
    first
    rung that does it is refined by halving.
    """
    limits = search or TensionSettings()
    chosen = replace(ensemble.settings, samples=min(DRAWS, ensemble.settings.samples))
    draws = make_draws(chosen, ensemble.contact.foundation.skin.poisson)
    small = Ensemble(ensemble.case, ensemble.contact, chosen, draws)
    total = sum(pull.tension_n for pull in ensemble.case.pulls)
    seen: dict[float, Worn] = {}

    def worn(factor: float) -> Worn:
        """The draws worn with all pulls times a factor, each factor once."""
        if factor not in seen:
            seen[factor] = small.worn([p.scaled(factor) for p in ensemble.case.pulls], states="hold")
        return seen[factor]

    ladder = [float(f) for f in np.geomspace(2.0 / total, limits.most_total_n / total, 6)]
    return LeastPulls(
        _least(ensemble, worn, ladder, lambda w: float(w.holds.mean())),
        _least(ensemble, worn, ladder, lambda w: float(w.stays.mean())),
    )


def _least(
    ensemble: Ensemble, worn: Callable[[float], Worn], ladder: list[float], share: Callable[[Worn], float]
) -> LeastPull:
    pulls = [pull.tension_n for pull in ensemble.case.pulls]
    reached = [share(worn(rung)) for rung in ladder]
    good = [i for i, value in enumerate(reached) if value >= WANTED]
    if not good:
        best = int(np.argmax(reached))
        return LeastPull((), None, reached[best], ladder[best] * sum(pulls))
    high = ladder[good[0]]
    low = ladder[good[0] - 1] if good[0] > 0 else high
    for _ in range(_STEPS if low < high else 0):
        middle = float(np.sqrt(low * high))
        low, high = (low, middle) if share(worn(middle)) >= WANTED else (middle, high)
    return LeastPull(tuple(high * p for p in pulls), high * sum(pulls), share(worn(high)), high * sum(pulls))
