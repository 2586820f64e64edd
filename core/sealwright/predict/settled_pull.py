"""How hard each strap is pulled: as the recipe says, or as the draws want it; and all draws so worn."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from ..limits import limit
from ..physics.ensemble import Ensemble
from ..physics.least_pull import LeastPull, LeastPulls, PullTrials, few_draws
from ..physics.prediction_settings import PredictionSettings
from ..physics.pull_trial import PullTrial
from ..physics.worn import Worn
from ..progress import Job, Step, with_steps
from .straps import EVEN_SHARE, STARTING_N, shared_pulls

T = TypeVar("T")

_LOOKING = "Looking for strap tensions"
_ROUNDS = 5  # at most, in which a pull found on few draws is corrected on all of them
_STEP = 1.025  # of such a correction: what the search on few draws leaves open
_EASED_ROUNDS = 2  # in which it may become less; the others make good what that lost
_LOST = (
    0.2  # draws that no longer hold under a pull less by a share, over that share; on ten faces 0.1 to 0.4
)
_CLEAR = 0.995  # so that a pull kept back by pressure keeps the bound and does not stand on it
_KEPT_BACK = 0.75  # of the pull it is looked from, and no less: a rigid band would hang loose under any bound
_TWO_PAIRS = 4
_SHARE_STEP = 0.05  # of the pull on the upper straps, when looked for
LEAST_SHARE, MOST_SHARE = 0.3, 0.7
"""Of the pull on the upper straps, when looked for."""


@dataclass(frozen=True, eq=False)
class SettledPull:
    """The straps' pull and what all draws make of it.

    Attributes
    ----------
    ensemble : with that pull.
    upper_share : of the pull, on the upper straps.
    worn : all draws.
    least : the least pulls to hold and to stay.
    """

    ensemble: Ensemble
    upper_share: float
    worn: Worn
    least: LeastPulls


def settled_steps(ensemble: Ensemble, chosen: PredictionSettings, automatic: bool) -> Job[SettledPull]:
    """Wear a design with its own pull and share, or with the automatic ones, as a job of steps.

    The automatic share of the upper straps is the one at which most draws hold under the same pressure. The
    automatic pull is the least that holds in enough of the draws, kept back where it would press harder
    than the table of limits allows; where no pull holds, the one that holds best below that pressure.

    Parameters
    ----------
    ensemble : the draws, with the recipe's pull or the one to look from.
    chosen : what is assumed.
    automatic : whether the pull is to be found.

    Raises
    ------
    NotConverged : the mask finds no place at all.
    """
    few, share = few_draws(ensemble), chosen.straps.upper_share
    if share is None:
        share = yield from _looking(0.1, _best_share(few))
        pulls = shared_pulls(ensemble.case.pulls, share)
        few, ensemble = few.under(pulls), ensemble.under(pulls)
    trials = PullTrials(few, chosen.tension)
    least = yield from _looking(0.15, trials.least_pulls())
    if not automatic:
        return SettledPull(ensemble, share, (yield from _draws(ensemble.tried())), least)
    most_kpa = limit("pull_pressure").value
    most_n = yield from _looking(0.2, trials.below_pressure(least.hold.at_total_n, most_kpa))
    factor = most_n / trials.total_n
    trial = ensemble.pulled(max(factor, _KEPT_BACK)).tried()
    for number in range(_ROUNDS if factor >= _KEPT_BACK else 0):
        yield Step(0.25, _LOOKING)
        more = _correction(trial, most_kpa, number < _EASED_ROUNDS)
        if more == 1.0:
            break
        trial = trial.ensemble.pulled(more).tried()
    ensemble, worn = trial.ensemble, (yield from _draws(trial))
    return SettledPull(ensemble, share, worn, replace(least, hold=_confirmed(ensemble, worn, least.hold)))


def _looking(at: float, search: Generator[None, None, T]) -> Job[T]:
    """A search for tensions as steps of the job, which stands still meanwhile."""
    return with_steps(search, lambda _: Step(at, _LOOKING))


def _best_share(few: Ensemble) -> Generator[None, None, float]:
    """Share of the upper straps at which most of a few draws hold, all pressed as hard as under even straps.

    One step for each that is tried. It climbs from the even share, from a pull that is the same whatever the
    recipe's.
    """
    pulls = few.case.pulls
    if len(pulls) < _TWO_PAIRS:
        return EVEN_SHARE
    few = few.pulled(STARTING_N * len(pulls) / sum(pull.tension_n for pull in pulls))
    even = few.under(shared_pulls(few.case.pulls, EVEN_SHARE)).tried()
    yield
    best, most = EVEN_SHARE, even.share("hold")
    for step in (_SHARE_STEP, -_SHARE_STEP):
        share = round(best + step, 2)
        while LEAST_SHARE <= share <= MOST_SHARE:
            yield
            if (held := _holding(even, share)) <= most:
                break
            best, most = share, held
            share = round(best + step, 2)
        if best != EVEN_SHARE:
            break
    return best


def _holding(even: PullTrial, share: float) -> float:
    """Share of the draws that hold with so much on the upper straps, pressed as hard as under even straps."""
    first = even.ensemble.under(shared_pulls(even.ensemble.case.pulls, share)).tried(even)
    if first.p95_median_kpa <= 0.0:
        return 0.0
    return first.ensemble.pulled(even.p95_median_kpa / first.p95_median_kpa).tried(first).share("hold")


def _correction(trial: PullTrial, most_kpa: float, may_ease: bool) -> float:
    """Factor on the pull by which few draws were wrong about all of them; 1 where they were not."""
    presses, wanted = trial.p95_median_kpa, limit("hold_share").value
    if presses > most_kpa:
        return _CLEAR * most_kpa / presses
    if not trial.reaches("hold", wanted):
        return _STEP if 0.0 < presses * _STEP <= _CLEAR * most_kpa else 1.0
    eased = float(np.exp(-(trial.share("hold") - wanted) / _LOST)) if may_ease else 1.0
    return eased if eased * _STEP < 1.0 else 1.0


def _confirmed(ensemble: Ensemble, worn: Worn, found: LeastPull) -> LeastPull:
    """The least pull that holds, where all draws agree that the settled one does."""
    share = float(worn.holds.mean())
    if share < limit("hold_share").value:
        return found
    pulls = tuple(pull.tension_n for pull in ensemble.case.pulls)
    return LeastPull(pulls, sum(pulls), share, sum(pulls))


def _draws(trial: PullTrial) -> Job[Worn]:
    """All draws as steps of a job."""
    said = "Drawing faces, skins, prints and straps"
    return with_steps(trial.worn_steps(), lambda share: Step(0.3 + 0.5 * share, said))
