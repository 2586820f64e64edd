"""What the elastic layer says of a contact surface, and the bounds within which it bears a shaped one.

Springs, which offsets are chosen by, let no neighbour help: what they miss is the skin at the band's edges.
Where the draws settle how much of the pull the upper straps take, another count of draws or a finer band
settles it a little otherwise: the highest place is looked for a tenth of the pull to either side as well.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import dataclass

import numpy as np

from ..errors import NotConverged
from ..limits import limit
from ..mesh import Bools
from ..physics.comfort import area_quantile
from ..physics.contact import solve_contact
from ..physics.ensemble import Ensemble
from ..physics.foundation import KPA
from ..physics.layer_contact import EdgeRadii, LayerContact, layer_contact
from ..physics.patch import ContactPatch
from ..physics.skin import skin_sites
from ..physics.skin_map import mix_of
from ..physics.statics import POSITIONS, weight_wrench
from .settled_pull import LEAST_SHARE, MOST_SHARE
from .straps import shared_pulls

_ASIDE = 0.1  # of the pull, to either side of the upper straps' share; our choice

OVER_SPRINGS, OVER_EVEN = "layer_over_springs", "layer_peak_over_even"


@dataclass(frozen=True)
class LayerNumbers:
    """What the layer says of a surface without errors, head upright.

    Attributes
    ----------
    over_springs : the largest of three ratios to the springs under its own straps: of the pressure that 95 %
        stay below, of the highest mean over 1 cm2 on bone, of the highest place.
    peak_kpa : highest place, edges included, under its own straps and where they are shared a little
        otherwise.
    """

    over_springs: float
    peak_kpa: float


def shares_near(share: float, automatic: bool) -> tuple[float, ...]:
    """Shares of the upper straps at which the highest place counts, the settled one first."""
    if not automatic:
        return (share,)
    return (share, max(share - _ASIDE, LEAST_SHARE), min(share + _ASIDE, MOST_SHARE))


def layer_numbers(
    ensemble: Ensemble, edges: EdgeRadii, shares: Sequence[float]
) -> Generator[None, None, LayerNumbers | None]:
    """The layer's numbers of a case under its straps, one step for each share of the upper ones.

    Parameters
    ----------
    ensemble : the case; its draws are not used.
    edges : radii of the band's edges.
    shares : of the upper straps, the case's own first.

    Returns
    -------
    The numbers; None where the mask finds no hold under one of the shares.
    """
    yield
    try:
        own = _layer(ensemble, edges)
        ratio = _over_springs(ensemble, own)
    except NotConverged:
        return None
    beside = yield from highest_kpa(ensemble, edges, shares[1:])
    return None if beside is None else LayerNumbers(ratio, max(beside, own.peak_kpa))


def highest_kpa(
    ensemble: Ensemble, edges: EdgeRadii, shares: Sequence[float]
) -> Generator[None, None, float | None]:
    """Highest pressure of the layer, edges included, over shares of the upper straps; None without hold."""
    highest = 0.0
    for share in shares:
        yield
        try:
            highest = max(highest, _layer(_shared(ensemble, share), edges).peak_kpa)
        except NotConverged:
            return None
    return highest


def broken_bound(even: LayerNumbers | None, shaped: LayerNumbers | float | None) -> str:
    """Name of the limit that a shaped surface passes, empty where it keeps all that is known of it.

    Parameters
    ----------
    shaped : all its numbers, or its highest place alone, kPa; None without hold.
    """
    if shaped is None:
        return OVER_SPRINGS
    if isinstance(shaped, LayerNumbers):
        if shaped.over_springs > limit(OVER_SPRINGS).value:
            return OVER_SPRINGS
        shaped = shaped.peak_kpa
    passed = even is not None and shaped > limit(OVER_EVEN).value * even.peak_kpa
    return OVER_EVEN if passed else ""


def _shared(ensemble: Ensemble, share: float) -> Ensemble:
    return ensemble.under(shared_pulls(ensemble.case.pulls, share))


def _layer(ensemble: Ensemble, edges: EdgeRadii) -> LayerContact:
    case = ensemble.case
    weight = weight_wrench(case.hanging, POSITIONS[0].pull, case.patch.centre)
    return layer_contact(case.patch, case.pulls, ensemble.contact, edges, weight)


def _over_springs(ensemble: Ensemble, layer: LayerContact) -> float:
    case = ensemble.case
    weight = weight_wrench(case.hanging, POSITIONS[0].pull, case.patch.centre)
    springs = solve_contact(case.patch, case.pulls, ensemble.contact, extra=weight).pressure_kpa
    touching = springs > 0.0
    p95 = area_quantile(springs[touching], case.patch.areas[touching], 0.95)
    bony = _on_bone(case.patch)
    around = (ensemble.around @ np.stack([springs, layer.pressure_kpa], axis=1))[bony].max(axis=0)
    pairs = (layer.p95_kpa, p95), (around[1], around[0]), (layer.peak_kpa, springs.max())
    return max(float(ours / max(theirs, KPA)) for ours, theirs in pairs)


def _on_bone(patch: ContactPatch) -> Bools:
    """Points (n,) over bony sites; all where there are none."""
    sites = np.array([site.bony for site in skin_sites()])
    found = sites[mix_of(patch).argmax(axis=1)]
    return np.asarray(found if found.any() else np.ones_like(found))
