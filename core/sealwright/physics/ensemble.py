"""One design worn by many plausible wearers: pressures, hold in every head position, fit test, protection.

An `Ensemble` keeps the draws, the shape of the band and everything that does not change between designs; each
`worn` call offers one offset map, soft layer and pull to the very same draws (common random numbers), so
that two
designs differ by what differs between them and not by luck.
"""

from __future__ import annotations

import copy
from collections.abc import Generator, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..mesh import Floats
from ..progress import run_to_end
from .batch import Balances, BatchBand, Singles, Springs, balance, batch_band, seat
from .chamber_load import breath_wrench
from .contact_result import ContactSettings
from .draws import Draws, factor_within, make_draws
from .equilibrium import Wrench
from .filter_case import FilterCase
from .fit_settings import FitSettings
from .foundation import KPA, GasketSettings
from .gap_error import print_gap_error, scan_error_mm, scan_gap_error
from .layer_kernel import layer_factor, poisson_rows
from .leak_batch import leak_of_openings
from .loop import Loop, band_width_mm, loop_of
from .patch import ContactPatch, StrapPull
from .relief import SMOOTH, Grooves, Surface, grooves_of
from .skin_map import mix_of, tissue_of
from .statics import POSITIONS, WEIGHTLESS, Hanging, weight_wrench
from .worn import PATCH_CM2, Worn, WornStates, around_points, joined_states, summed_up

CHUNK = 128  # draws that are worked on at once: their arrays stay in the processor's cache
THREADS = 2  # chunks at a time
CUSHION_SPREAD = 1.5
"""Factor within which the modulus of nine of ten soft layers of one kind lies; common practice, no source."""

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
        self.around = around_points(case.patch, PATCH_CM2)
        self._errors: dict[int, Singles] = {}

    def pulled(self, factor: float) -> Ensemble:
        """The same draws with all straps pulled so many times as hard."""
        other = copy.copy(self)
        other.case = replace(self.case, pulls=tuple(pull.scaled(factor) for pull in self.case.pulls))
        return other

    @cached_property
    def _air(self) -> tuple[Floats, Floats]:
        """Force and moment over reach (6,) per Pa of gauge pressure; jaw weight (n,) of every point."""
        load = breath_wrench(self.case.patch, 1.0)
        mix = mix_of(self.case.patch)
        from .skin import skin_sites

        columns = [i for i, site in enumerate(skin_sites()) if site.site in JAW_SITES]
        return self._row(load), mix[:, columns].sum(axis=1)

    @cached_property
    def _grooves(self) -> Grooves | None:
        if not self.settings.staircase:
            return None
        line = self.loop.line
        along = np.roll(line, -1, axis=0) - np.roll(line, 1, axis=0)
        along /= np.linalg.norm(along, axis=1, keepdims=True)
        return grooves_of(self.case.patch, along[self.case.patch.station], self.case.surface)

    def _row(self, load: Wrench) -> Floats:
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
        return run_to_end(self.worn_steps(pulls, cushion, offset_mm, states))

    def worn_steps(
        self,
        pulls: Sequence[StrapPull] | None = None,
        cushion: GasketSettings | None = None,
        offset_mm: Floats | None = None,
        states: str = "all",
    ) -> Generator[float, None, Worn]:
        """As `worn` in steps, for a window that shows progress: yields the share of the draws done."""
        offer = _Offer(
            tuple(self.case.pulls if pulls is None else pulls),
            cushion or self.contact.foundation.gasket,
            np.zeros(len(self.case.patch.points)) if offset_mm is None else offset_mm,
            states,
        )
        parts: list[WornStates] = []
        for part in self._steps(offer):
            parts.append(part)
            yield min(1.0, len(parts) * CHUNK / self.draws.count)
        return summed_up(joined_states(parts), self.case.patch, self.loop, self.contact)

    def _steps(self, offer: _Offer) -> Iterator[WornStates]:
        """The states of one chunk of draws after the other, in order."""
        chunks = [slice(i, i + CHUNK) for i in range(0, self.draws.count, CHUNK)]
        # What is made once is made here, before threads ask for it.
        _ = self._air, self._grooves
        with own_threads() as count, ThreadPoolExecutor(count) as pool:
            yield from pool.map(lambda rows: self._chunk(rows, offer), chunks)

    def gap_error(self, rows: slice) -> Singles:
        """Errors (m, n) of the gap of some draws, mm: scan and print; kept for the next design."""
        if rows.start not in self._errors:
            patch, chosen, draws = self.case.patch, self.settings, self.draws.part(rows)
            size = scan_error_mm(chosen, draws, self.case.noise_mm)[:, None]
            if self.case.noise_map is not None:
                size = size * self.case.noise_map[patch.station]
            error = size * scan_gap_error(patch, self.loop, chosen, draws)
            error += chosen.print_error_mm * print_gap_error(patch, self.loop, draws)
            self._errors[rows.start] = error.astype(np.float32)
        return self._errors[rows.start]

    def _chunk(self, rows: slice, offer: _Offer) -> WornStates:
        return _Chunk(self, rows, offer).run()


@contextmanager
def own_threads() -> Iterator[int]:
    """How many chunks to work on at a time, with the linear algebra held to one thread each.

    Threads within threads slow each other down many times over. Where nothing can hold the library back (the
    extension carries no such package), chunks are worked on one at a time.
    """
    try:
        from threadpoolctl import threadpool_limits
    except ImportError:
        yield 1
        return
    with threadpool_limits(1):
        yield THREADS


@dataclass(frozen=True, eq=False)
class _Offer:
    """What is offered to the draws: straps, soft layer, offset map, and which states are wanted."""

    pulls: tuple[StrapPull, ...]
    cushion: GasketSettings
    offset_mm: Floats
    states: str


class _Chunk:
    """Some of the draws wearing one design, state after state."""

    def __init__(self, whole: Ensemble, rows: slice, offer: _Offer) -> None:
        self.whole, self.rows, self.offer = whole, rows, offer
        self.draws = whole.draws.part(rows)
        self.count = self.draws.count
        self.springs, self.skin, self.plane = self._springs()
        self.resistance = whole.case.filter.resistances(self.draws.medium)
        self.strap = self._straps(np.zeros(self.count))

    def _springs(self) -> tuple[Springs, Singles, Singles]:
        """Springs, those of the skin alone (m, n) and its plane modulus (m, n), in N and mm."""
        whole, draws = self.whole, self.draws
        patch, chosen = whole.case.patch, whole.contact.foundation
        tissue = tissue_of(patch, chosen.skin)
        modulus = tissue.modulus_kpa * np.exp(draws.modulus @ tissue.mix.T)
        thickness = tissue.thickness_mm * np.exp(draws.thickness @ tissue.mix.T)
        factor = poisson_rows(draws.poisson, whole.width_mm / thickness)
        skin = KPA * factor * modulus / thickness
        layer, normal = self.offer.cushion, skin
        if layer.thickness_mm > 0.0:
            soft = layer_factor(layer.poisson, whole.width_mm / layer.thickness_mm) * layer.modulus_kpa
            soft = KPA * soft / layer.thickness_mm * factor_within(draws.cushion, CUSHION_SPREAD)
            normal = 1.0 / (1.0 / skin + 1.0 / soft[:, None])
        shear = chosen.skin.shear_share * factor_within(draws.shear, whole.settings.shear_spread)
        gap = (patch.gap_mm + self.offer.offset_mm).astype(np.float32) + whole.gap_error(self.rows)
        plane = KPA * modulus / (1.0 - draws.poisson[:, None] ** 2)
        return (
            Springs(gap, normal.astype(np.float32), shear[:, None].astype(np.float32)),
            skin.astype(np.float32),
            plane.astype(np.float32),
        )

    def _straps(self, turn: Floats) -> Floats:
        """Loads (m, 6) of the straps; ``turn`` (m,) tightens the left and slackens the right."""
        whole, chosen = self.whole, self.whole.settings
        load = np.zeros((self.count, 6))
        common = 1.0 + chosen.tension_spread * self.draws.tension
        for number, pull in enumerate(self.offer.pulls):
            single = 1.0 + chosen.side_spread * self.draws.side[:, number % self.draws.side.shape[1]]
            side = 1.0 + np.sign(pull.point[0]) * turn
            factor = np.clip(common * single * side, 0.1, 3.0)
            arm = np.cross(pull.point - whole.case.patch.centre, pull.direction) / whole.band.reach_mm
            load += (pull.tension_n * factor)[:, None] * np.concatenate([pull.direction, arm])
        return load

    def _load(self, pull: tuple[float, float, float], gauge_pa: Floats | float, strap: Floats) -> Floats:
        """Loads (m, 6): straps, weight along ``pull``, gauge pressure in the chamber."""
        whole = self.whole
        weight = whole._row(weight_wrench(whole.case.hanging, pull, whole.case.patch.centre))
        air = np.broadcast_to(np.asarray(gauge_pa), (self.count,))[:, None] * whole._air[0]
        return np.asarray(strap + weight + air)

    def run(self) -> WornStates:
        """All wanted states of these draws."""
        upright = POSITIONS[0].pull
        load = self._load(upright, 0.0, self.strap)
        anchor = seat(self.whole.band, self.springs, load)
        self.anchor = anchor
        rest = balance(self.whole.band, self.springs, load, anchor, anchor)
        hold = self._hold(rest) if self.offer.states in ("all", "hold") else None
        fit = self._fit_test(rest) if self.offer.states in ("all", "seal") else None
        pressure = self.springs.normal * np.maximum(-rest.gap, np.float32(0.0)) * np.float32(1.0 / KPA)
        return WornStates(
            pressure_kpa=pressure,
            around_kpa=(self.whole.around @ pressure.T).T,
            good=rest.good,
            motion=rest.motion,
            hold=hold,
            fit=fit,
            penetration=self.whole.case.filter.penetrations(
                self.draws.penetration, self.whole.settings.leak.flow_l_min
            ),
        )

    def _hold(self, rest: Balances) -> tuple[Floats, Floats, Floats]:
        """Line held, place kept, line closed (p, m) in every head position, breathing out."""
        whole, touch = self.whole, self.whole.contact
        gauge = whole.case.filter.gauge_pa("exhalation", touch.breath_l_min, self.resistance)
        shares, stays, closes = [], [], []
        for position in POSITIONS:
            found = balance(
                whole.band,
                self.springs,
                self._load(position.pull, gauge, self.strap),
                rest.motion,
                self.anchor,
            )
            pressure = self.springs.normal * np.maximum(-found.gap, np.float32(0.0))
            station = np.maximum.reduceat(pressure[:, whole.loop.order], whole.loop.starts, axis=1)
            asked = 1e-6 * (np.maximum(gauge, 0.0) + touch.seal_margin_pa)
            width = whole.loop.width_mm / whole.loop.width_mm.sum()
            shares.append(np.where(found.good, (station >= asked[:, None]) @ width, 0.0))
            closes.append(np.where(found.good, (station > 0.0) @ width, 0.0))
            contact = pressure @ whole.band.areas
            stays.append(found.good & rest.good & (found.sideways_n <= touch.friction * contact))
        return np.array(shares), np.array(stays), np.array(closes)

    def _fit_test(self, rest: Balances) -> tuple[Floats, Floats]:
        """Leak share of every exercise (e, m), and leak of every station (m, s) while breathing normally."""
        whole, chosen = self.whole, self.whole.settings
        flow, moves = chosen.leak.flow_l_min, chosen.exercises
        inhale = whole.case.filter.gauge_pa("inhalation", flow, self.resistance)
        turned = self._straps(moves.strap_turn * self.draws.turn)
        jaw = (moves.jaw_mm * np.abs(self.draws.jaw))[:, None] * whole._air[1]
        upright, bent = POSITIONS[0].pull, POSITIONS[1].pull
        up = (
            0.0,
            float(np.sin(np.radians(moves.head_up_deg))),
            -float(np.cos(np.radians(moves.head_up_deg))),
        )
        still = self._leak(rest, self._load(upright, inhale, self.strap), flow)
        deep = self._leak(
            rest, self._load(upright, inhale * moves.deep_flow, self.strap), flow * moves.deep_flow
        )
        talk = replace(self.springs, gap=self.springs.gap + jaw.astype(np.float32))
        leaks = [
            still,
            deep,
            self._leak(rest, self._load(upright, inhale, turned), flow),
            self._leak(rest, self._load(up, inhale, self.strap), flow),
            self._leak(rest, self._load(upright, inhale, self.strap), flow, talk),
            self._leak(rest, self._load(bent, inhale, self.strap), flow),
            still,
        ]
        flows = [flow, flow * moves.deep_flow, *[flow] * 5]
        shares = np.array([leak.sum(axis=1) / f for leak, f in zip(leaks, flows, strict=True)])
        return np.minimum(shares, 1.0), still

    def _leak(self, rest: Balances, load: Floats, flow: float, springs: Springs | None = None) -> Floats:
        """Leak (m, s) of every station in a state, L/min; a mask that is gone leaks the whole breath."""
        whole, used = self.whole, springs or self.springs
        found = balance(whole.band, used, load, rest.motion, self.anchor)
        relief = whole.settings.leak.skin_relief_mm * factor_within(
            self.draws.relief, whole.settings.relief_spread
        )
        cube: Floats = np.broadcast_to((relief**3)[:, None], found.gap.shape)
        grooves = whole._grooves
        if grooves is not None and self.offer.cushion.thickness_mm <= 0.0:
            pressure = used.normal * np.maximum(-found.gap, np.float32(0.0))
            cube = cube + grooves.open_cube(pressure, self.plane)
        opening = np.maximum(found.gap, np.cbrt(np.maximum(cube, 1e-12)).astype(np.float32))
        per_flow = self.resistance / (whole.case.filter.area_cm2 * 1e-4)
        leak = leak_of_openings(whole.loop, opening, per_flow, flow, whole.settings.leak)
        lost = ~(found.good & rest.good)
        leak[lost] = flow * whole.loop.width_mm / whole.loop.width_mm.sum()
        return leak
