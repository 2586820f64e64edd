"""Rules on the scan: noise, guessed skin, distance from the raw scan, landmarks, trust by sector."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ..facepiece.seal_line_proposal import NEEDED
from ..limits import limit
from ..trust.reasons import GOOD, RESCAN
from ..trust.verdicts import SectorTrust
from .measured import Measured
from .rule import Finding, Rule, at_least, at_most
from .words import seen_landmark

_NAMED = 3  # sectors whose reasons are told in full


def _noise(measured: Measured) -> Iterator[Finding]:
    noise, good, most = measured.scan.noise_mm, limit("scan_noise"), limit("scan_noise_untrusted")
    yield Finding(
        key="scan.noise_mm",
        value=noise,
        unit="mm",
        limit=good.value,
        basis=good,
        passes=(at_most(noise, good),),
        bears=(at_most(noise, most),),
        words={"good": good.value, "most": most.value},
    )


def _guessed(measured: Measured) -> Iterator[Finding]:
    share, good, most = (
        measured.scan.guessed_share_under_band,
        limit("guessed_share"),
        limit("guessed_share_untrusted"),
    )
    if share is None:
        return
    yield Finding(
        key="scan.guessed_share_under_band",
        value=share,
        unit="1",
        limit=good.value,
        basis=good,
        passes=(at_most(share, good),),
        bears=(at_most(share, most),),
        share=True,
        words={"percent": 100 * share, "most": 100 * most.value},
    )


def _band_to_scan(measured: Measured) -> Iterator[Finding]:
    scan, touch = measured.scan, limit("touch")
    if scan.band_to_scan_p95_mm is None or scan.band_to_scan_max_mm is None:
        return
    bound = at_most(scan.band_to_scan_p95_mm, touch, scan.smoothing_bound_mm)
    yield Finding(
        key="scan.band_to_scan_p95_mm",
        value=bound.value,
        unit="mm",
        limit=bound.edge,
        basis=touch,
        passes=(bound,),
        bears=(),
        words={
            "touch": bound.limit,
            "bound": bound.addition,
            "edge": bound.edge,
            "p95": bound.value,
            "furthest": scan.band_to_scan_max_mm,
        },
    )


def _landmarks(measured: Measured) -> Iterator[Finding]:
    good, least = limit("landmark_confidence"), limit("landmark_confidence_untrusted")
    sure = {name: measured.landmarks[name] for name in NEEDED if name in measured.landmarks}
    unsure = [name for name, confidence in sure.items() if not at_least(confidence, good).holds]
    lowest = min(sure.values(), default=0.0)
    yield Finding(
        key="landmarks",
        value=lowest,
        unit="1",
        limit=good.value,
        basis=good,
        passes=(at_least(lowest, good),),
        bears=(at_least(lowest, least),),
        words={
            "good": good.value,
            "least": least.value,
            "lowest": lowest,
            "unsure": ", ".join(seen_landmark(name) for name in unsure),
        },
        reason="reason_unsure" if unsure else "reason",
    )


def _trust(measured: Measured) -> Iterator[Finding]:
    sectors = measured.sectors
    if not sectors:
        return
    bad = sorted((s for s in sectors if s.verdict != GOOD), key=lambda s: s.verdict != RESCAN)
    share = 1.0 - len(bad) / len(sectors)
    rescans = sum(s.verdict == RESCAN for s in sectors)
    yield Finding(
        key="trust",
        value=share,
        unit="1",
        limit=limit("sectors_good").value,
        basis=limit("sectors_good"),
        passes=(at_least(share, limit("sectors_good")),),
        bears=(at_most(rescans, 0.0),),
        share=True,
        words={
            "told": " ".join(_told(s) for s in bad[:_NAMED]),
            "others": ", ".join(f"{s.sector} ({s.verdict})" for s in bad[_NAMED:]),
            "fixes": _fixes(bad[:_NAMED]),
        },
        reason="reason" if not bad else "reason_more" if len(bad) > _NAMED else "reason_bad",
    )


def _told(sector: SectorTrust) -> str:
    return f"{sector.sector.capitalize()}: {' '.join(reason.text for reason in sector.reasons)}"


def _fixes(sectors: Sequence[SectorTrust]) -> str:
    return " ".join(dict.fromkeys(reason.fix for sector in sectors for reason in sector.reasons))


SCAN_RULES = (
    Rule("scan.noise_mm", _noise),
    Rule("scan.guessed_share_under_band", _guessed),
    Rule("scan.band_to_scan_p95_mm", _band_to_scan),
    Rule("landmarks", _landmarks),
    Rule("trust", _trust),
)
