"""A contact surface shaped for one wearer: offsets chosen on some draws, counted on others, or left out."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from ..cushion.settings import cushion_of
from ..designing.design import Design
from ..designing.shaped_surface import ShapedSurface, SurfaceNumbers
from ..errors import DesignError
from ..face.field_through import field_through
from ..face.stand_off import sampled
from ..mesh import Floats
from ..physics.ensemble import Ensemble
from ..physics.offset_modes import modes_of
from ..physics.prediction_settings import PredictionSettings
from ..physics.shaped_offsets import Counts, offsets_steps, with_seed
from ..physics.worn import Worn, quantile_of, share_of
from ..progress import Job, Step, steps_within, with_steps
from .assumed import assumed_of
from .band import BandOnSkin, band_on_skin
from .layer_bounds import LayerNumbers, broken_bound, highest_kpa, layer_numbers, shares_near
from .prediction import edge_radii
from .settled_pull import settled_steps
from .targets import HOLDING, PRESSURE, REACHING, SURE, errors_between, numbers_of, reaches
from .worn_case import worn_case

T = TypeVar("T")

_SEED = 3  # after that of the settings: the offsets are chosen on the draws of the two before
_PARTS = (1.0, 0.5, 0.25)  # of the offsets found, the largest that the layer bears is kept
_ASKING = "Asking the elastic layer"
_MOST_PRESSED = 0.4  # of a cushion's thickness: as far as its seating may be asked for


def shaping_steps(even: Design, counts: Counts | None = None) -> Job[ShapedSurface]:
    """Choose a contact surface for a sketch with an even one, as a job of steps.

    Parameters
    ----------
    even : the sketch; its recipe says how large the offsets may be.
    counts : how many draws it takes.

    Returns
    -------
    The surface; an even one with its reason where none is better, or where the mask finds no hold.
    """
    try:
        return (yield from Shaping(even, counts or Counts()).surface())
    except DesignError as refusal:
        return ShapedSurface("no_hold", why=refusal.what)


def most_offset_mm(even: Design) -> float:
    """How large offsets may be: as asked, and so that a cushion at rest is pressed by at most 40 %."""
    soft, asked = cushion_of(even.recipe.cushion), even.recipe.contact_surface.most_mm
    if not soft.there:
        return asked
    pressed = soft.thickness_mm - soft.seated_mm
    return float(np.clip(_MOST_PRESSED * soft.thickness_mm - pressed, 0.0, asked))


@dataclass(frozen=True, eq=False)
class OnDraws:
    """A surface on the draws that are counted, under its own straps."""

    ensemble: Ensemble
    worn: Worn
    layer: LayerNumbers | None
    shares: tuple[float, ...]

    @property
    def numbers(self) -> SurfaceNumbers:
        """As they are told."""
        return _numbers(self.ensemble, self.worn, self.layer)


class Shaping:
    """One wearer, on whom surfaces are tried."""

    def __init__(self, even: Design, counts: Counts) -> None:
        self.design, self.counts = even, counts
        self.assumed: PredictionSettings = assumed_of(even.recipe)
        self.band: BandOnSkin = band_on_skin(even)
        case = worn_case(even, self.assumed, self.band)
        self.ensemble = with_seed(Ensemble(case, self.assumed.contact, self.assumed.fit), _SEED, counts.told)
        self.edges = edge_radii(even)

    def surface(self) -> Job[ShapedSurface]:
        """The surface that is kept."""
        most = most_offset_mm(self.design)
        if most <= 0.0:
            return ShapedSurface("no_room")
        flat = np.zeros(len(self.band.patch.points))
        even = yield from steps_within(self.on_draws(flat), 0.0, 0.2)
        modes = modes_of(self.band.patch, self.design.recipe.contact_surface.waves, most)
        choosing = offsets_steps(even.ensemble, modes, self.counts)
        offsets = yield from with_steps(choosing, lambda share: Step(0.2 + 0.5 * share, "Choosing offsets"))
        if offsets is None:
            return ShapedSurface("nothing", draws=self.counts.told, even=even.numbers)
        return (yield from steps_within(self.kept(even, offsets), 0.7, 1.0))

    def kept(self, even: OnDraws, offsets: Floats) -> Job[ShapedSurface]:
        """The surface as large as the elastic layer bears it, where it is surely better; else an even one."""
        held, last, sure = "", None, False
        for number, part in enumerate(_PARTS):
            low, high = number / len(_PARTS), (number + 1) / len(_PARTS)
            image = self.image_of(part * offsets)
            moved = self.offsets_of(image)
            # What the layer does not bear under the straps of the even surface is not offered to the draws.
            others = even.shares[1:] or even.shares
            looking = highest_kpa(self._with(moved, even.ensemble), self.edges, others)
            highest = yield from _asking(looking, low)
            broken = broken_bound(even.layer, highest)
            if not broken:
                last = yield from steps_within(self.on_draws(moved), low, high)
                broken = broken_bound(even.layer, last.layer)
            if not broken:
                sure = last is not None and surely_better(even.worn, last.worn)
                break
            held = broken
        outcome = "layer" if broken else "kept" if sure else "not_sure"
        tried = None if last is None else last.numbers
        kept_part = part if sure else None
        return ShapedSurface(
            outcome, image if sure else None, self.counts.told, even.numbers, tried, held, kept_part
        )

    def image_of(self, offsets: Floats) -> Floats:
        """The offsets (n,) as an image over the chart."""
        chart = self.design.prepared.face.chart
        places = chart.place_of(self.band.places)[0].reshape(-1, 2)
        return field_through(chart, places, self.band.grid(offsets).ravel())

    def offsets_of(self, image: Floats) -> Floats:
        """The offsets (n,) that an image makes, in the order of the patch."""
        chart = self.design.prepared.face.chart
        return sampled(image, chart, chart.place_of(self.band.places)[0])[:, ::-1].ravel()

    def on_draws(self, offsets: Floats) -> Job[OnDraws]:
        """A surface with offsets (n,) under its own straps, on the draws that are counted."""
        automatic = self.design.recipe.straps.tension_n is None
        moved = self._with(offsets, self.ensemble)
        settled = yield from settled_steps(moved, self.assumed, automatic)
        shares = shares_near(settled.upper_share, self._free)
        looking = layer_numbers(settled.ensemble, self.edges, shares)
        layer = yield from _asking(looking, 0.9)
        return OnDraws(settled.ensemble, settled.worn, layer, shares)

    def _with(self, offsets: Floats, ensemble: Ensemble) -> Ensemble:
        """The counted draws under the straps of an ensemble, with offsets (n,)."""
        whole = self.ensemble
        patch = replace(whole.case.patch, gap_mm=whole.case.patch.gap_mm + offsets)
        case = replace(ensemble.case, patch=patch)
        return Ensemble(case, whole.contact, whole.settings, whole.draws)

    @property
    def _free(self) -> bool:
        """Whether the draws settle how the pull is shared."""
        pairs = len(self.ensemble.case.pulls) // 2
        return self.assumed.straps.upper_share is None and pairs > 1


def _asking(looking: Generator[None, None, T], at: float) -> Job[T]:
    """A look at the elastic layer as steps of the job, which stands still meanwhile."""
    return with_steps(looking, lambda _: Step(at, _ASKING))


def _numbers(ensemble: Ensemble, worn: Worn, layer: LayerNumbers | None) -> SurfaceNumbers:
    rows = worn.good if worn.good.any() else np.ones_like(worn.good)
    worst, p95 = quantile_of(worn.worst_cm2_kpa[rows], 0.5), quantile_of(worn.p95_kpa[rows], 0.5)
    reaching, holding = share_of(reaches(worn) > 0.0), share_of(worn.holds)
    return SurfaceNumbers(
        sum(pull.tension_n for pull in ensemble.case.pulls),
        worst.value,
        worst.error,
        p95.value,
        p95.error,
        reaching.value,
        reaching.error,
        holding.value,
        holding.error,
        None if layer is None else layer.over_springs,
        None if layer is None else layer.peak_kpa,
    )


def surely_better(even: Worn, shaped: Worn) -> bool:
    """Whether the highest mean over 1 cm2, the reach or the hold is surely better, and none surely worse.

    Reach and hold count up to what is asked of them, see `targets`.
    """
    both = even.good & shaped.good
    if not both.any():
        return False
    lower = quantile_of((even.worst_cm2_kpa - shaped.worst_cm2_kpa)[both], 0.5)
    before, after, errors = numbers_of(even), numbers_of(shaped), errors_between(even, shaped)
    if PRESSURE.short(after[PRESSURE.key]) > PRESSURE.short(before[PRESSURE.key]) > 0.0:
        return False
    gains = [(lower.value, lower.error)]
    for target in (REACHING, HOLDING):
        nearer = target.short(before[target.key]) - target.short(after[target.key])
        gains.append((target.value * nearer, errors[target.key]))
    harmed = any(gain < -SURE * error for gain, error in gains)
    return not harmed and any(gain > SURE * error for gain, error in gains)
