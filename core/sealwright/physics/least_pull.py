"""The least pull of the straps that holds in nearly all draws, and how to set it."""

from __future__ import annotations

from collections.abc import Callable, Generator
from dataclasses import dataclass, replace

import numpy as np

from .draws import make_draws
from .ensemble import Ensemble
from .pull_trial import Aim, PullTrial
from .statics import GRAVITY_M_S2
from .tension import TensionSettings

WANTED = 0.95
DRAWS = 256  # of which the share is taken while pulls are tried
_LEAST_TOTAL_N, _RUNGS = 4.0, 5
_STEPS = 5  # rungs lie a factor of two apart: halved so often, 2 % are left

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


def few_draws(ensemble: Ensemble) -> Ensemble:
    """The same case on the few draws that pulls are tried on."""
    if ensemble.settings.samples <= DRAWS:
        return ensemble
    chosen = replace(ensemble.settings, samples=DRAWS)
    draws = make_draws(chosen, ensemble.contact.foundation.skin.poisson)
    return Ensemble(ensemble.case, ensemble.contact, chosen, draws)


class PullTrials:
    """Straps pulled harder or softer, each offered to the same few draws once."""

    def __init__(self, ensemble: Ensemble, search: TensionSettings | None = None) -> None:
        limits = search or TensionSettings()
        self._small = few_draws(ensemble)
        self.pulls_n = tuple(pull.tension_n for pull in ensemble.case.pulls)
        self.total_n = sum(self.pulls_n)
        self.ladder = [
            float(f) for f in np.geomspace(2.0 / self.total_n, limits.most_total_n / self.total_n, 6)
        ]
        self._seen: dict[float, PullTrial] = {}

    def at(self, factor: float) -> PullTrial:
        """All pulls times a factor, each factor once; begun from the nearest one that was tried."""
        if factor not in self._seen:
            near = min(self._seen, key=lambda other: abs(np.log(other / factor)), default=None)
            begun = None if near is None else self._seen[near]
            self._seen[factor] = self._small.pulled(factor).tried(begun)
        return self._seen[factor]

    def least_pulls(self) -> Generator[None, None, LeastPulls]:
        """Least common factor on the strap pulls that holds, and that stays, in 95 % of the draws.

        More pull does not always hold better (it also tilts a mask), so a ladder is climbed from below and
        the first rung that does it is refined by halving. One step for each pull that is tried.
        """
        return LeastPulls((yield from self._least("hold")), (yield from self._least("stay")))

    def _least(self, aim: Aim) -> Generator[None, None, LeastPull]:
        ladder, high, low = self.ladder, 0.0, self.ladder[0]
        for rung in ladder:
            yield
            if self.at(rung).reaches(aim, WANTED):
                high = rung
                break
            low = rung
        if not high:
            shares = list[float]()
            for rung in ladder:
                yield
                shares.append(self.at(rung).share(aim))
            best = int(np.argmax(shares))
            return LeastPull((), None, shares[best], ladder[best] * self.total_n)
        high = yield from self._halved(low, high, lambda trial: trial.reaches(aim, WANTED))
        total = high * self.total_n
        return LeastPull(tuple(high * p for p in self.pulls_n), total, self.at(high).share(aim), total)

    def below_pressure(self, total_n: float, most_kpa: float) -> Generator[None, None, float]:
        """The sum of the pulls, or less where the median of the 95 % pressure passes a bound, N; in steps."""

        def over(trial: PullTrial) -> bool:
            """Whether the bound is passed."""
            return trial.p95_median_kpa > most_kpa

        high, low = total_n / self.total_n, self.ladder[0]
        yield
        if low >= high or not over(self.at(high)):
            return total_n
        # The last factor that keeps the bound is wanted, not the first that passes it.
        first = yield from self._halved(low, high, over)
        return self.total_n * max(
            (f for f in self._seen if f <= first and not over(self._seen[f])), default=low
        )

    def _halved(
        self, low: float, high: float, done: Callable[[PullTrial], bool]
    ) -> Generator[None, None, float]:
        """The least factor found at which it is done, between one where it is not and one where it is."""
        for _ in range(_STEPS if low < high else 0):
            yield
            middle = float(np.sqrt(low * high))
            low, high = (low, middle) if done(self.at(middle)) else (middle, high)
        return high
