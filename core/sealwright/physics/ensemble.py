"""One design worn by many plausible wearers: pressures, hold in every head position, fit test, protection.

An `Ensemble` keeps the draws, the shape of the band and everything that does not change between designs; each
`worn` call offers one offset map, soft layer and pull to the very same draws (common random numbers), so
that two
designs differ by what differs between them and not by luck.
"""

from __future__ import annotations

import copy
from collections.abc import Generator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.sparse import csr_matrix

from ..mesh import Floats
from ..parallel import in_threads
from ..progress import run_to_end
from .batch import BatchBand, Singles, batch_band
from .chamber_load import breath_wrench
from .chunk import Chunk
from .contact_result import ContactSettings
from .draws import Draws, make_draws
from .equilibrium import Wrench
from .filter_case import FilterCase
from .fit_settings import FitSettings
from .foundation import GasketSettings
from .gap_error import print_gap_error, scan_error_mm, scan_gap_error
from .loop import Loop, band_width_mm, loop_of
from .patch import ContactPatch, StrapPull
from .pull_trial import PullTrial
from .relief import SMOOTH, Grooves, Surface, grooves_of
from .skin import skin_sites
from .skin_map import mix_of
from .statics import WEIGHTLESS, Hanging
from .worn import PATCH_CM2, Worn, around_points

CHUNK = 128  # draws that are worked on at once: their arrays stay in the processor's cache

JAW_SITES = ("jaw_side", "chin", "menton", "under_chin")


@dataclass(frozen=True, eq=False)
class WornCase:
    """A design as the physics sees it.

    Attributes
    ----------
    patch : the band on the skin.
    pulls : straps.
    hanging : weight and where it acts.
    filter : medium and airway.
    surface : how the face side is printed.
    noise_mm : white noise of the scan under the band.
    noise_map : (s,) noise at every station over that; ones where it is the same everywhere.
    """

    patch: ContactPatch
    pulls: tuple[StrapPull, ...]
    filter: FilterCase
    hanging: Hanging = WEIGHTLESS
    surface: Surface = SMOOTH
    noise_mm: float = 0.1
    noise_map: Floats | None = None


class Ensemble:
    """A band and its draws, ready to be offered offsets, soft layers and pulls."""

    def __init__(
        self,
        case: WornCase,
        contact: ContactSettings | None = None,
        settings: FitSettings | None = None,
        draws: Draws | None = None,
    ) -> None:
        self.case, self.contact = case, contact or ContactSettings()
        self.settings = settings or FitSettings()
        self.draws = draws or make_draws(self.settings, self.contact.foundation.skin.poisson)
        self.loop: Loop = loop_of(case.patch)
        self.band: BatchBand = batch_band(case.patch)
        self.width_mm = band_width_mm(case.patch)
        self._chunks: list[Chunk] = []  # shared with the same draws under other straps

    def pulled(self, factor: float) -> Ensemble:
        """The same draws with all straps pulled so many times as hard."""
        return self.under([pull.scaled(factor) for pull in self.case.pulls])

    def under(self, pulls: Sequence[StrapPull]) -> Ensemble:
        """The same draws under other straps."""
        other = copy.copy(self)
        other.case = replace(self.case, pulls=tuple(pulls))
        return other

    @cached_property
    def air_row(self) -> Floats:
        """Force and moment over reach (6,) per Pa of gauge pressure."""
        return self.as_row(breath_wrench(self.case.patch, 1.0))

    @cached_property
    def jaw_weight(self) -> Floats:
        """How much of a movement of the jaw every point (n,) makes."""
        columns = [i for i, site in enumerate(skin_sites()) if site.site in JAW_SITES]
        return np.asarray(mix_of(self.case.patch)[:, columns].sum(axis=1))

    @cached_property
    def around(self) -> csr_matrix:
        """Averages (n, n) of values over the skin round every point."""
        return around_points(self.case.patch, PATCH_CM2)

    @cached_property
    def grooves(self) -> Grooves | None:
        """What the layers of the print leave open; None where they are not counted."""
        if not self.settings.staircase:
            return None
        line = self.loop.line
        along = np.roll(line, -1, axis=0) - np.roll(line, 1, axis=0)
        along /= np.linalg.norm(along, axis=1, keepdims=True)
        return grooves_of(self.case.patch, along[self.case.patch.station], self.case.surface)

    def as_row(self, load: Wrench) -> Floats:
        """A wrench as force and moment over reach, (6,)."""
        return np.concatenate([load.force_n, load.moment_nmm / self.band.reach_mm])

    def worn(
        self,
        pulls: Sequence[StrapPull] | None = None,
        cushion: GasketSettings | None = None,
        offset_mm: Floats | None = None,
        states: str = "all",
    ) -> Worn:
        """Offer one design to every draw.

        Parameters
        ----------
        pulls : other straps; None takes those of the case.
        cushion : another soft layer; None takes that of the settings.
        offset_mm : (n,) added to the gap of every point (a shaped surface); None is none.
        states : "all", "hold" (head positions only) or "seal" (pressure and fit test only).
        """
        whole = self if pulls is None else self.under(pulls)
        chunks = whole._worn_by(cushion, offset_mm)
        return run_to_end(PullTrial(whole, chunks).worn_steps(states))

    def tried(self, near: PullTrial | None = None) -> PullTrial:
        """The case's straps on every draw, each question answered as far as it is asked.

        Parameters
        ----------
        near : other straps tried on the same draws, whose balances are begun from.
        """
        return PullTrial(self, self._worn_by(None, None), near)

    def worn_steps(self, offset_mm: Floats | None = None) -> Generator[float, None, Worn]:
        """As `worn` for the case in steps, for a window that shows progress: yields the share done."""
        return PullTrial(self, self._worn_by(None, offset_mm)).worn_steps()

    def _worn_by(self, cushion: GasketSettings | None, offset_mm: Floats | None) -> Sequence[Chunk]:
        """The draws in chunks, wearing a design; those of the case itself are kept for the next straps."""
        own = cushion is None and offset_mm is None
        if own and self._chunks:
            return self._chunks
        layer = cushion or self.contact.foundation.gasket
        moved = np.zeros(len(self.case.patch.points)) if offset_mm is None else offset_mm
        parts = [slice(i, i + CHUNK) for i in range(0, self.draws.count, CHUNK)]
        # What is made once is made here, before threads ask for it.
        _ = self.air_row, self.jaw_weight, self.grooves
        made = list(in_threads(lambda rows: Chunk(self, rows, layer, moved), parts))
        if own:
            self._chunks += made
        return made

    def gap_error(self, rows: slice) -> Singles:
        """Errors (m, n) of the gap of some draws, mm: scan and print."""
        patch, chosen, draws = self.case.patch, self.settings, self.draws.part(rows)
        size = scan_error_mm(chosen, draws, self.case.noise_mm)[:, None]
        if self.case.noise_map is not None:
            size = size * self.case.noise_map[patch.station]
        error = size * scan_gap_error(patch, self.loop, chosen, draws)
        error += chosen.print_error_mm * print_gap_error(patch, self.loop, draws)
        return error.astype(np.float32)
