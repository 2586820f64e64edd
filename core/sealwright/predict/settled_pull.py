"""How hard the straps are pulled: as the recipe says, or as the draws want it; and all draws so worn."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..limits import limit
from ..physics.ensemble import Ensemble
from ..physics.least_pull import LeastPull, LeastPulls, PullTrials
from ..physics.prediction_settings import PredictionSettings
from ..physics.pull_trial import PullTrial
from ..physics.worn import Worn
from ..progress import Job, Step, with_steps

_ROUNDS = 5  # at most, in which a pull found on few draws is corrected on all of them
_STEP = 1.025  # of such a correction: what the search on few draws leaves open
_CLEAR = 0.995  # so that a pull kept back by pressure keeps the bound and does not stand on it
_KEPT_BACK = 0.75  # of the pull it is looked from, and no less: a rigid band would hang loose under any bound


@dataclass(frozen=True, eq=False)
class SettledPull:
    """The straps' pull and what all draws make of it.

    Attributes
    ----------
    ensemble : with that pull.
    worn : all draws.
    least : the least pulls to hold and to stay.
    """

    ensemble: Ensemble
    worn: Worn
    least: LeastPulls


def settled_steps(ensemble: Ensemble, chosen: PredictionSettings, automatic: bool) -> Job[SettledPull]:
    """Wear a design with its own pull, or with the automatic one, as a job of steps.

    The automatic pull is the least that holds in enough of the draws, kept back where it would press harder
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
    yield Step(0.1, "Looking for strap tensions")
    trials = PullTrials(ensemble, chosen.tension)
    least = trials.least_pulls()
    if not automatic:
        return SettledPull(ensemble, (yield from _draws(ensemble.tried())), least)
    most_kpa = limit("pull_pressure").value
    factor = trials.below_pressure(least.hold.at_total_n, most_kpa) / trials.total_n
    trial = ensemble.pulled(max(factor, _KEPT_BACK)).tried()
    for _ in range(_ROUNDS if factor >= _KEPT_BACK else 0):
        more = _correction(trial, most_kpa)
        if more == 1.0:
            break
        trial = trial.ensemble.pulled(more).tried()
    ensemble, worn = trial.ensemble, (yield from _draws(trial))
    return SettledPull(ensemble, worn, replace(least, hold=_confirmed(ensemble, worn, least.hold)))


def _correction(trial: PullTrial, most_kpa: float) -> float:
    """Factor on the pull by which few draws were wrong about all of them; 1 where they were not."""
    presses = trial.p95_median_kpa
    if presses > most_kpa:
        return _CLEAR * most_kpa / presses
    if not 0.0 < presses * _STEP <= _CLEAR * most_kpa:
        return 1.0
    return 1.0 if trial.reaches("hold", limit("hold_share").value) else _STEP


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
