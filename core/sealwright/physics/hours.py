"""How long a mask may be worn: from the worst square centimetre on bone, as a range over the draws."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..mesh import Floats
from ..settings import check_settings
from ..tables import table
from .comfort import KPA_PER_MMHG, ComfortSettings
from .worn import Quantile, Worn, quantile_of

LOW, HIGH = 0.05, 0.95


@dataclass(frozen=True)
class SiteHours:
    """One bony site.

    Attributes
    ----------
    site : name in the skin table.
    kpa_low, kpa_typical, kpa_high : highest mean over 1 cm2, 5, 50 and 95 % of the draws.
    hours_low, hours_high : time without a break, 5 and 95 % of the draws.
    """

    site: str
    kpa_low: float
    kpa_typical: float
    kpa_high: float
    hours_low: float
    hours_high: float


@dataclass(frozen=True)
class WearTime:
    """How long the mask may be worn without a break.

    Attributes
    ----------
    low, typical, high : hours, 5, 50 and 95 % of the draws; the worst bony site of each draw decides.
    worst_site : the site that is the worst in most draws.
    sites : every bony site under the band.
    anchors : what was published, (finding, confidence, source).
    breaks : advice on breaks.
    text : the range in one sentence.
    """

    low: Quantile
    typical: Quantile
    high: Quantile
    worst_site: str
    sites: tuple[SiteHours, ...]
    anchors: tuple[tuple[str, str, str], ...]
    breaks: str
    text: str


def hours_without_break(kpa: Floats, settings: ComfortSettings | None = None) -> Floats:
    """Hours (m,) at pressures (m,): pressure times hours is constant, up to what is told at all."""
    chosen = settings or ComfortSettings()
    check_settings(chosen, "comfort")
    product = chosen.caution * chosen.pressure_hours_mmhg_h * KPA_PER_MMHG
    return np.minimum(chosen.longest_h, product / np.maximum(kpa, 1e-6))


def wear_time(worn: Worn, settings: ComfortSettings | None = None) -> WearTime:
    """The range of hours over all draws in which the mask finds its place."""
    rows = worn.good if worn.good.any() else np.ones_like(worn.good)
    names = list(worn.site_kpa)
    pressures = np.array([worn.site_kpa[name][rows] for name in names])
    hours = hours_without_break(pressures.max(axis=0), settings)
    worst = names[int(np.bincount(pressures.argmax(axis=0), minlength=len(names)).argmax())]
    sites = []
    for name, kpa in zip(names, pressures, strict=True):
        low, middle, high = np.quantile(kpa, [LOW, 0.5, HIGH])
        own = np.quantile(hours_without_break(kpa, settings), [LOW, HIGH])
        sites.append(SiteHours(name, float(low), float(middle), float(high), float(own[0]), float(own[1])))
    rule = table("limits")["wearing"]
    low, typical, high = (quantile_of(hours, share) for share in (LOW, 0.5, HIGH))
    text = (
        f"Between {low.value:.1f} and {high.value:.1f} h without a break for nine of ten plausible wearers, "
        f"typically {typical.value:.1f} h; the {worst.replace('_', ' ')} decides. {rule['breaks']['text']}"
    )
    return WearTime(
        low,
        typical,
        high,
        worst,
        tuple(sites),
        tuple((a["text"], a["confidence"], a["source"]) for a in rule["anchors"]),
        rule["breaks"]["text"],
        text,
    )
