"""Some of the draws wearing one design: its springs once, then any straps, head positions and breaths."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ..mesh import Bools, Floats
from .batch import Balances, Singles, Springs, balance, gap_at, seat
from .draws import factor_within
from .foundation import KPA, GasketSettings
from .layer_kernel import layer_factor, poisson_rows
from .leak_batch import leak_of_openings
from .patch import StrapPull
from .skin_map import tissue_of
from .statics import POSITIONS, weight_wrench
from .worn import area_quantiles

if TYPE_CHECKING:
    from .ensemble import Ensemble

CUSHION_SPREAD = 1.5
"""Factor within which the modulus of nine of ten soft layers of one kind lies; common practice, no source."""


@dataclass(frozen=True, eq=False)
class Rest:
    """Draws at rest under some straps, head upright, between breaths.

    Attributes
    ----------
    strap : (m, 6) loads of the straps.
    seat, motion : (m, 6) where the masks first came to rest, and where they are held.
    good : (m,) a balance was found.
    """

    strap: Floats
    seat: Floats
    motion: Floats
    good: Bools


@dataclass(frozen=True, eq=False)
class Held:
    """Draws in one head position, breathing out: share of the line held, place kept, share that touches."""

    held: Floats
    kept: Bools
    closed: Floats


class Chunk:
    """Some draws and one design; all that does not change with the straps is worked out once."""

    def __init__(self, whole: Ensemble, rows: slice, cushion: GasketSettings, offset_mm: Floats) -> None:
        self.whole, self.cushion = whole, cushion
        self.draws = whole.draws.part(rows)
        self.count = self.draws.count
        gap = (whole.case.patch.gap_mm + offset_mm).astype(np.float32) + whole.gap_error(rows)
        spread = factor_within(self.draws.shear, whole.settings.shear_spread)
        shear = whole.contact.foundation.skin.shear_share * spread
        self.springs = Springs(gap, self._normal(), shear[:, None].astype(np.float32))
        self.resistance = whole.case.filter.resistances(self.draws.medium)

    def _modulus(self) -> Floats:
        """Modulus (m, n) of the skin, kPa."""
        tissue = tissue_of(self.whole.case.patch, self.whole.contact.foundation.skin)
        return np.asarray(tissue.modulus_kpa * np.exp(self.draws.modulus @ tissue.mix.T))

    def _normal(self) -> Singles:
        """Stiffness (m, n) of skin and soft layer, N/mm3."""
        whole, draws, layer = self.whole, self.draws, self.cushion
        tissue = tissue_of(whole.case.patch, whole.contact.foundation.skin)
        thickness = tissue.thickness_mm * np.exp(draws.thickness @ tissue.mix.T)
        factor = poisson_rows(draws.poisson, whole.width_mm / thickness)
        normal = KPA * factor * self._modulus() / thickness
        if layer.thickness_mm > 0.0:
            soft = layer_factor(layer.poisson, whole.width_mm / layer.thickness_mm) * layer.modulus_kpa
            soft = KPA * soft / layer.thickness_mm * factor_within(draws.cushion, CUSHION_SPREAD)
            normal = 1.0 / (1.0 / normal + 1.0 / soft[:, None])
        return np.asarray(normal.astype(np.float32))

    @cached_property
    def _plane(self) -> Singles:
        """Plane modulus (m, n) of what steps are pressed into, N/mm2: skin, and a cushion that has them."""
        plane = KPA * self._modulus() / (1.0 - self.draws.poisson[:, None] ** 2)
        layer = self.cushion
        if layer.thickness_mm > 0.0:
            soft = KPA * layer.modulus_kpa * factor_within(self.draws.cushion, CUSHION_SPREAD)
            plane = 1.0 / (1.0 / plane + (1.0 - layer.poisson**2) / soft[:, None])
        return np.asarray(plane.astype(np.float32))

    def straps(self, pulls: Sequence[StrapPull], turn: Floats | float = 0.0) -> Floats:
        """Loads (m, 6) of straps; ``turn`` (m,) tightens the left and slackens the right."""
        whole, chosen = self.whole, self.whole.settings
        load = np.zeros((self.count, 6))
        common = 1.0 + chosen.tension_spread * self.draws.tension
        for number, pull in enumerate(pulls):
            single = 1.0 + chosen.side_spread * self.draws.side[:, number % self.draws.side.shape[1]]
            side = 1.0 + np.sign(pull.point[0]) * turn
            factor = np.clip(common * single * side, 0.1, 3.0)
            arm = np.cross(pull.point - whole.case.patch.centre, pull.direction) / whole.band.reach_mm
            load += (pull.tension_n * factor)[:, None] * np.concatenate([pull.direction, arm])
        return load

    def load(self, pull: tuple[float, float, float], gauge_pa: Floats | float, strap: Floats) -> Floats:
        """Loads (m, 6): straps, weight along ``pull``, gauge pressure in the chamber."""
        whole = self.whole
        weight = whole.as_row(weight_wrench(whole.case.hanging, pull, whole.case.patch.centre))
        air = np.broadcast_to(np.asarray(gauge_pa), (self.count,))[:, None] * whole.air_row
        return np.asarray(strap + weight + air)

    def rest(self, pulls: Sequence[StrapPull], near: Rest | None = None) -> Rest:
        """The masks at rest under some straps; ``near`` is where they rest under others, to look from."""
        strap = self.straps(pulls)
        load = self.load(POSITIONS[0].pull, 0.0, strap)
        if near is None:
            start = seated = seat(self.whole.band, self.springs, load)
        else:
            known = near.good[:, None]
            seated = seat(self.whole.band, self.springs, load, np.where(known, near.seat, np.nan))
            start = np.where(known, near.motion, seated)
        found = balance(self.whole.band, self.springs, load, start, seated)
        return Rest(strap, seated, found.motion, found.good)

    def pressure_kpa(self, rest: Rest) -> Singles:
        """Pressure (m, n) at rest."""
        gap = gap_at(self.whole.band, self.springs, rest.motion)
        return np.asarray(self.springs.normal * np.maximum(-gap, np.float32(0.0)) * np.float32(1.0 / KPA))

    def p95_kpa(self, rest: Rest) -> Floats:
        """Pressure (m,) at rest that 95 % of the touching skin stay below."""
        return area_quantiles(self.pressure_kpa(rest), self.whole.case.patch.areas, 0.95)

    def held(self, rest: Rest, position: int, rows: Bools | None = None) -> Held:
        """Hold of some of the draws (all by default) in a head position, breathing out."""
        whole, touch = self.whole, self.whole.contact
        gauge = whole.case.filter.gauge_pa("exhalation", touch.breath_l_min, self.resistance)
        load = self.load(POSITIONS[position].pull, gauge, rest.strap)
        some = slice(None) if rows is None or rows.all() else rows
        springs = self.springs.some(some)
        found = balance(whole.band, springs, load[some], rest.motion[some], rest.seat[some])
        pressure = springs.normal * np.maximum(-found.gap, np.float32(0.0))
        station = np.maximum.reduceat(whole.loop.sorted_rows(pressure), whole.loop.starts, axis=1)
        asked = 1e-6 * (np.maximum(gauge, 0.0) + touch.seal_margin_pa)[some]
        width = whole.loop.width_mm / whole.loop.width_mm.sum()
        contact = pressure @ whole.band.areas
        return Held(
            np.where(found.good, (station >= asked[:, None]) @ width, 0.0),
            found.good & rest.good[some] & (found.sideways_n <= touch.friction * contact),
            np.where(found.good, (station > 0.0) @ width, 0.0),
        )

    def fit_test(self, rest: Rest, pulls: Sequence[StrapPull]) -> tuple[Floats, Floats]:
        """Leak share of every exercise (e, m), and leak of every station (m, s) while breathing normally."""
        whole, chosen = self.whole, self.whole.settings
        flow, moves = chosen.leak.flow_l_min, chosen.exercises
        inhale = whole.case.filter.gauge_pa("inhalation", flow, self.resistance)
        turned = self.straps(pulls, moves.strap_turn * self.draws.turn)
        jaw = (moves.jaw_mm * np.abs(self.draws.jaw))[:, None] * whole.jaw_weight
        upright, bent = POSITIONS[0].pull, POSITIONS[1].pull
        angle = float(np.radians(moves.head_up_deg))
        up = (0.0, float(np.sin(angle)), -float(np.cos(angle)))
        calm = self.load(upright, inhale, rest.strap)
        still = self._leak(rest, calm, flow)
        deep = self._leak(
            rest, self.load(upright, inhale * moves.deep_flow, rest.strap), flow * moves.deep_flow
        )
        talk = replace(self.springs, gap=self.springs.gap + jaw.astype(np.float32))
        leaks = [
            still,
            deep,
            self._leak(rest, self.load(upright, inhale, turned), flow),
            self._leak(rest, self.load(up, inhale, rest.strap), flow),
            self._leak(rest, calm, flow, talk),
            self._leak(rest, self.load(bent, inhale, rest.strap), flow),
            still,
        ]
        flows = [flow, flow * moves.deep_flow, *[flow] * 5]
        shares = np.array([leak.sum(axis=1) / f for leak, f in zip(leaks, flows, strict=True)])
        return np.minimum(shares, 1.0), still

    def _leak(self, rest: Rest, load: Floats, flow: float, springs: Springs | None = None) -> Floats:
        """Leak (m, s) of every station in a state, L/min; a mask that is gone leaks the whole breath."""
        whole, used = self.whole, springs or self.springs
        found: Balances = balance(whole.band, used, load, rest.motion, rest.seat)
        relief = whole.settings.leak.skin_relief_mm * factor_within(
            self.draws.relief, whole.settings.relief_spread
        )
        cube: Floats = (relief**3)[:, None]
        grooves = whole.grooves
        if grooves is not None and (whole.case.surface.on_cushion or self.cushion.thickness_mm <= 0.0):
            pressure = used.normal * np.maximum(-found.gap, np.float32(0.0))
            cube = cube + grooves.open_cube(pressure, self._plane)
        opening = np.maximum(found.gap, np.cbrt(np.maximum(cube, 1e-12)).astype(np.float32))
        per_flow = self.resistance / (whole.case.filter.area_cm2 * 1e-4)
        leak = leak_of_openings(whole.loop, opening, per_flow, flow, whole.settings.leak)
        lost = ~(found.good & rest.good)
        leak[lost] = flow * whole.loop.width_mm / whole.loop.width_mm.sum()
        return leak
