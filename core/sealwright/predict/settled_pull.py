"""How hard the straps are pulled: as the recipe says, or as the draws want it; and all draws so worn."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..limits import limit
from ..physics.ensemble import Ensemble
from ..physics.least_pull import LeastPull, LeastPulls, PullTrials
from ..physics.prediction_settings import PredictionSettings
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
        return SettledPull(ensemble, (yield from _draws(ensemble)), least)
    most_kpa = limit("pull_pressure").value
    factor = trials.below_pressure(least.hold.at_total_n, most_kpa) / trials.total_n
    ensemble = ensemble.pulled(max(factor, _KEPT_BACK))
    first = _Tried(ensemble, (yield from _draws(ensemble)))
    found = first if factor < _KEPT_BACK else _least_on_all(first, most_kpa)
    return SettledPull(found.ensemble, found.worn, replace(least, hold=_confirmed(found, least.hold)))


@dataclass(frozen=True, eq=False)
class _Tried:
    """One pull, worn by all draws."""

    ensemble: Ensemble
    worn: Worn

    @property
    def holds(self) -> bool:
        return float(self.worn.holds.mean()) >= limit("hold_share").value

    def pulled(self, factor: float) -> _Tried:
        other = self.ensemble.pulled(factor)
        return _Tried(other, other.worn())


def _least_on_all(start: _Tried, most_kpa: float) -> _Tried:
    """The least pull that holds in all draws, in small steps from where few draws had it."""
    presses = start.worn.p95_median_kpa
    if presses > most_kpa:
        start = start.pulled(_CLEAR * most_kpa / presses)
    down = start.holds
    for _ in range(_ROUNDS):
        other = start.pulled(1.0 / _STEP if down else _STEP)
        if (down and not other.holds) or not 0.0 < other.worn.p95_median_kpa <= most_kpa:
            break
        start = other
        if not down and other.holds:
            break
    return start


def _confirmed(settled: _Tried, found: LeastPull) -> LeastPull:
    """The least pull that holds, where all draws agree that the settled one does."""
    if not settled.holds:
        return found
    pulls = tuple(pull.tension_n for pull in settled.ensemble.case.pulls)
    return LeastPull(pulls, sum(pulls), float(settled.worn.holds.mean()), sum(pulls))


def _draws(ensemble: Ensemble) -> Job[Worn]:
    """All draws as steps of a job."""
    said = "Drawing faces, skins, prints and straps"
    return with_steps(ensemble.worn_steps(), lambda share: Step(0.3 + 0.5 * share, said))
