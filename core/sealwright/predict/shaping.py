"""A contact surface shaped for one wearer: offsets chosen on some draws, counted on others, or left out."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..cushion.settings import cushion_of
from ..designing.design import Design
from ..designing.shaped_surface import ShapedSurface, SurfaceNumbers
from ..errors import DesignError, NotConverged
from ..face.field_through import field_through
from ..face.stand_off import sampled
from ..limits import limit
from ..mesh import Bools, Floats
from ..physics.comfort import area_quantile
from ..physics.contact import solve_contact
from ..physics.ensemble import Ensemble
from ..physics.foundation import KPA
from ..physics.layer_contact import EdgeRadii, layer_contact
from ..physics.offset_modes import modes_of
from ..physics.patch import ContactPatch
from ..physics.prediction_settings import PredictionSettings
from ..physics.shaped_offsets import Counts, chosen_offsets, with_seed
from ..physics.skin import skin_sites
from ..physics.skin_map import mix_of
from ..physics.statics import POSITIONS, weight_wrench
from ..physics.worn import Worn, quantile_of, share_of
from ..progress import run_to_end
from .assumed import assumed_of
from .band import BandOnSkin, band_on_skin
from .prediction import edge_radii
from .settled_pull import settled_steps
from .targets import HOLDING, PRESSURE, REACHING, SURE, errors_between, numbers_of, reaches
from .worn_case import worn_case

_SEED = 3  # after that of the settings: the offsets are chosen on the draws of the two before
_MOST_PRESSED = 0.4  # of a cushion's thickness: as far as its seating may be asked for


def shaped_surface(even: Design, counts: Counts | None = None) -> ShapedSurface:
    """Choose a contact surface for a sketch with an even one.

    Parameters
    ----------
    even : the sketch; its recipe says how large the offsets may be.
    counts : how many draws it takes.

    Returns
    -------
    The surface; an even one with its reason where none is better, or where the mask finds no hold.
    """
    try:
        return Shaping(even, counts or Counts()).surface()
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
    numbers: SurfaceNumbers


class Shaping:
    """One wearer, on whom surfaces are tried."""

    def __init__(self, even: Design, counts: Counts) -> None:
        self.design, self.counts = even, counts
        self.assumed: PredictionSettings = assumed_of(even.recipe)
        self.band: BandOnSkin = band_on_skin(even)
        case = worn_case(even, self.assumed, self.band)
        self.ensemble = with_seed(Ensemble(case, self.assumed.contact, self.assumed.fit), _SEED, counts.told)

    def surface(self) -> ShapedSurface:
        """The surface that is kept."""
        most = most_offset_mm(self.design)
        if most <= 0.0:
            return ShapedSurface("no_room")
        even = self.on_draws(np.zeros(len(self.band.patch.points)))
        modes = modes_of(self.band.patch, self.design.recipe.contact_surface.waves, most)
        offsets = chosen_offsets(even.ensemble, modes, self.counts)
        if offsets is None:
            return ShapedSurface("nothing", draws=self.counts.told, even=even.numbers)
        return self.kept(even, offsets)

    def kept(self, even: OnDraws, offsets: Floats) -> ShapedSurface:
        """The shaped surface where it is surely better and the elastic layer bears it; else the even one."""
        outcome = "layer"
        for part in (1.0, 0.5):
            image = self.image_of(part * offsets)
            tried = self.on_draws(self.offsets_of(image))
            ratio = tried.numbers.layer_over_springs
            if ratio is not None and ratio <= limit("layer_over_springs").value:
                outcome = "kept" if surely_better(even.worn, tried.worn) else "not_sure"
                break
        numbers = even.numbers, tried.numbers
        return ShapedSurface(outcome, image if outcome == "kept" else None, self.counts.told, *numbers)

    def image_of(self, offsets: Floats) -> Floats:
        """The offsets (n,) as an image over the chart."""
        chart = self.design.prepared.face.chart
        places = chart.place_of(self.band.places)[0].reshape(-1, 2)
        return field_through(chart, places, self.band.grid(offsets).ravel())

    def offsets_of(self, image: Floats) -> Floats:
        """The offsets (n,) that an image makes, in the order of the patch."""
        chart = self.design.prepared.face.chart
        return sampled(image, chart, chart.place_of(self.band.places)[0])[:, ::-1].ravel()

    def on_draws(self, offsets: Floats) -> OnDraws:
        """A surface with offsets (n,) under its own straps, on the draws that are counted."""
        whole = self.ensemble
        patch = replace(whole.case.patch, gap_mm=whole.case.patch.gap_mm + offsets)
        case = replace(whole.case, patch=patch)
        moved = Ensemble(case, whole.contact, whole.settings, whole.draws)
        automatic = self.design.recipe.straps.tension_n is None
        settled = run_to_end(settled_steps(moved, self.assumed, automatic))
        ratio = layer_over_springs(settled.ensemble, edge_radii(self.design))
        return OnDraws(settled.ensemble, settled.worn, _numbers(settled.ensemble, settled.worn, ratio))


def _numbers(ensemble: Ensemble, worn: Worn, ratio: float | None) -> SurfaceNumbers:
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
        ratio,
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


def layer_over_springs(ensemble: Ensemble, edges: EdgeRadii) -> float | None:
    """How much harder the layer is pressed than the springs, see `SurfaceNumbers`; None without hold."""
    case, touch = ensemble.case, ensemble.contact
    weight = weight_wrench(case.hanging, POSITIONS[0].pull, case.patch.centre)
    try:
        springs = solve_contact(case.patch, case.pulls, touch, extra=weight).pressure_kpa
        layer = layer_contact(case.patch, case.pulls, touch, edges, weight)
    except NotConverged:
        return None
    touching = springs > 0.0
    p95 = area_quantile(springs[touching], case.patch.areas[touching], 0.95)
    bony = _on_bone(case.patch)
    around = (ensemble.around @ np.stack([springs, layer.pressure_kpa], axis=1))[bony].max(axis=0)
    return max(layer.p95_kpa / max(p95, KPA), float(around[1] / max(around[0], KPA)))


def _on_bone(patch: ContactPatch) -> Bools:
    """Points (n,) over bony sites; all where there are none."""
    sites = np.array([site.bony for site in skin_sites()])
    found = sites[mix_of(patch).argmax(axis=1)]
    return np.asarray(found if found.any() else np.ones_like(found))
