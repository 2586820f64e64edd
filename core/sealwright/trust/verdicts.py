"""One verdict for each sector of the seal line: good, doubtful or rescan, with the reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass

import numpy as np

from ..designing.design import Design
from ..designing.prepared import Prepared
from ..errors import plain_point
from ..facepiece.closed_curve import arc_lengths
from ..facepiece.contact_band import BandSettings
from ..facepiece.seal_line import SealLine
from ..facepiece.sectors import SECTORS, sectors_of
from ..mesh import Bools, Floats, Ints
from .measures import SkinUnderSeal, skin_under_seal
from .reasons import GOOD, WORDS, Reason, SectorMeasures, reasons_of
from .settings import TrustSettings


@dataclass(frozen=True)
class SectorTrust:
    """How far the scanned skin under one sector of the seal line can be trusted.

    Attributes
    ----------
    sector : its name, see `sectors.SECTORS`.
    verdict : "good", "doubtful" or "rescan".
    reasons : what is wrong, the worst first, each with what to do; empty when good.
    from_mm, to_mm : where it lies along the seal line; the nose bridge goes through zero.
    point_mm : (x, y, z) of its middle, face frame.
    measures : what was measured.
    """

    sector: str
    verdict: str
    reasons: tuple[Reason, ...]
    from_mm: float
    to_mm: float
    point_mm: tuple[float, float, float]
    measures: SectorMeasures

    def as_dict(self) -> dict[str, object]:
        """The sector for the fit report."""
        return {
            "sector": self.sector,
            "verdict": self.verdict,
            "reason": " ".join(reason.text for reason in self.reasons),
            "fix": " ".join(dict.fromkeys(reason.fix for reason in self.reasons)),
            "from_mm": self.from_mm,
            "to_mm": self.to_mm,
            "point_mm": list(self.point_mm),
            **asdict(self.measures),
        }


@dataclass(frozen=True, eq=False)
class SealTrust:
    """Trust in the scanned skin under the whole seal.

    Attributes
    ----------
    sectors : one for each of `sectors.SECTORS`, in their order.
    sector_of : (n,) index of the sector of each station.
    skin : the measures by station.
    smooth_mm : roughness of the wearer's smooth skin, that hair is told from.
    """

    sectors: tuple[SectorTrust, ...]
    sector_of: Ints
    skin: SkinUnderSeal
    smooth_mm: float

    @property
    def verdict(self) -> str:
        """The worst verdict of all sectors."""
        return max((s.verdict for s in self.sectors), key=WORDS.index)

    def named(self, sector: str) -> SectorTrust:
        """The sector of a name of `sectors.SECTORS`."""
        return self.sectors[SECTORS.index(sector)]


def seal_trust(
    prepared: Prepared, line: SealLine, band: BandSettings, limits: TrustSettings | None = None
) -> SealTrust:
    """Judge the scanned skin under the band, sector by sector; takes about 0.1 s.

    Parameters
    ----------
    prepared : the wearer.
    line : the seal line.
    band : width of the band and how it lies on the line.
    limits : where good ends; None takes the defaults.
    """
    limits = limits or TrustSettings()
    skin = skin_under_seal(prepared, line, band)
    sector_of = sectors_of(line.points, prepared.landmarks)
    measured = [_measures(skin, sector_of == index, limits) for index in range(len(SECTORS))]
    smooth = _smooth_mm(measured)
    judged = tuple(
        _sector(name, line, sector_of == index, found, list(reasons_of(name, found, smooth, limits)))
        for index, (name, found) in enumerate(zip(SECTORS, measured, strict=True))
    )
    return SealTrust(judged, sector_of.astype(np.int32), skin, smooth)


def trust_of(design: Design, limits: TrustSettings | None = None) -> SealTrust | None:
    """The trust in the skin under the seal of a design, preview or final; None for a tube."""
    if design.seal_line is None:
        return None
    return seal_trust(design.prepared, design.seal_line, design.recipe.band, limits)


def _measures(skin: SkinUnderSeal, here: Bools, limits: TrustSettings) -> SectorMeasures:
    """Measures of the stations (n,) of one sector; a sector that the line passes over is empty and good."""
    if not here.any():
        return SectorMeasures(0.0, 0.0, 0.0, 0.0, float("inf"), 0.0, 0.0, 0)
    return SectorMeasures(
        noise_mm=_typical(skin.noise_mm[here]),
        roughness_mm=_typical(skin.roughness_mm[here]),
        spacing_mm=_typical(skin.spacing_mm[here]),
        guessed_share=float(skin.guessed[here].mean()),
        border_mm=float(skin.border_mm[here].min()),
        steep_share=float((skin.slope_deg[here] > limits.steep_deg).mean()),
        doubled_share=float(skin.doubled[here].mean()),
        repaired=int(skin.repaired[here].sum()),
    )


def _typical(values: Floats) -> float:
    """What half of the known values exceed; 0 where none is known, as on skin that was filled."""
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else 0.0


def _smooth_mm(measured: Sequence[SectorMeasures]) -> float:
    """Roughness of the second smoothest sector: one may be unlike the rest, or empty."""
    return sorted(max(found.noise_mm, found.roughness_mm) for found in measured)[1]


def _sector(
    name: str, line: SealLine, here: Bools, found: SectorMeasures, reasons: list[Reason]
) -> SectorTrust:
    """One judged sector with its place."""
    along = arc_lengths(line.points)[:-1]
    stations = np.flatnonzero(here)
    # The stations of the nose bridge lie at both ends of the line; turned by half, every sector is one run.
    half = len(here) // 2
    run = np.sort((stations + half) % len(here)) if name == SECTORS[0] else stations
    run = (run - half) % len(here) if name == SECTORS[0] else run
    if len(run) == 0:
        return SectorTrust(name, GOOD, (), 0.0, 0.0, (0.0, 0.0, 0.0), found)
    reasons = sorted(reasons, key=lambda reason: -WORDS.index(reason.verdict))
    verdict = reasons[0].verdict if reasons else GOOD
    return SectorTrust(
        name,
        verdict,
        tuple(reasons),
        float(along[run[0]]),
        float(along[run[-1]]),
        plain_point(line.points[run[len(run) // 2]]),
        found,
    )
