"""What a design aims at beyond its verdicts, and which aim stands against which where one is missed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..designing.design import Design
from ..designing.part_material import part_mass_g
from ..limits import limit
from ..predict.air import Breathing
from ..predict.hanging import hanging
from ..predict.result import Prediction
from ..predict.targets import Target
from .measure import Examined, breathing_by
from .rule import at_most
from .sentences import filled, number_text, sentences

_SECTION = "aims"
PRESSURE = Target("prediction.summary.pressure_p95_kpa", "pull_pressure", False)
REACHING = Target("prediction.summary.share_reaching_100", "fit_factor_share", True)
HOLDING = Target("prediction.summary.share_holding", "hold_share", True)
MASS = Target("masses.total_g", "printed_mass", False)
MOMENT = Target("hang.moment_nose_bridge_nmm", "nose_bridge_moment", False)
DEAD_SPACE = Target("breathing.dead_space_ml", "dead_space", False)


@dataclass(frozen=True, kw_only=True)
class Aim:
    """One aim of a design.

    Attributes
    ----------
    key : of its number in the report.
    name : in words.
    value, limit, unit : the number, and what it should reach or keep.
    at_least : whether the limit is to be reached; else it is not to be passed.
    kept : whether it is.
    against : what stands in the way on this wearer; empty where it is kept.
    """

    key: str
    name: str
    value: float
    limit: float
    unit: str
    at_least: bool
    kept: bool
    against: str = ""

    @property
    def value_text(self) -> str:
        """The number with its unit, as every door shows it."""
        return number_text(self.value, self.unit, self.unit == "1")

    @property
    def limit_text(self) -> str:
        """What it should reach or keep, in words."""
        bound = number_text(self.limit, self.unit, self.unit == "1")
        return f"at {'least' if self.at_least else 'most'} {bound}"


def aims_of(design: Design, examined: Examined) -> tuple[Aim, ...]:
    """Every aim of a finished body, in a fixed order; none for a tube or a preview.

    Parameters
    ----------
    design : finished.
    examined : what was worked out for it; aims of what was not are left out.
    """
    if not design.parts or design.recipe.kind != "body":
        return ()
    breathing = breathing_by(design, examined.prediction)
    return (
        *(_worn(examined.prediction) if examined.prediction is not None else ()),
        *_heavy(design),
        *(_breathed(breathing) if breathing is not None else ()),
    )


def _worn(found: Prediction) -> Iterator[Aim]:
    """Pressure, fit factor and hold over the drawn cases."""
    summary, worn, least = found.summary, found.worn, found.least
    if summary is None or worn is None or least is None:
        return
    words: dict[str, str | int | float] = {
        "pull": summary.strap_pull_n,
        "most": limit("pull_pressure").value,
        "wanted": 100.0 * limit("hold_share").value,
        "needed": least.hold.at_total_n,
        "best": 100.0 * least.hold.share,
        "position": worn.weakest_position()[0],
        "holding": 100.0 * summary.share_holding,
    }
    needs = "needs_more" if least.hold.total_n is not None else "never"
    yield _aim(PRESSURE, summary.pressure_p95_kpa, words)
    yield _aim(REACHING, summary.share_reaching_100, words)
    yield _aim(HOLDING, summary.share_holding, words, needs)


def _heavy(design: Design) -> Iterator[Aim]:
    """Printed mass, and the lever of all that hangs."""
    grams = {name: part_mass_g(design, name) for name in design.parts}
    heaviest = max(grams, key=lambda name: grams[name])
    words: dict[str, str | int | float] = {
        "part": heaviest.replace("_", " "),
        "grams": grams[heaviest],
        "width": design.recipe.band.width_mm,
        "wall": design.recipe.chamber.wall_mm,
    }
    yield _aim(MASS, sum(grams.values()), words)
    if "sellion" in design.prepared.landmarks:
        found = hanging(design)
        way = found.moment_nmm / max(found.weight_n, 1e-9)
        yield _aim(MOMENT, found.moment_nmm, {"hangs": found.mass_g, "way": way})


def _breathed(found: Breathing) -> Iterator[Aim]:
    """Dead space, and the limit of resistance that is nearest or passed."""
    dead = found.dead_space
    words: dict[str, str | int | float] = {
        "chamber": dead.chamber_ml,
        "port": dead.port_ml + dead.holder_ml + dead.valve_ml,
    }
    yield _aim(DEAD_SPACE, dead.total_ml, words)
    worst = max(found.limits, key=lambda check: check.use, default=None)
    if worst is not None:
        kept = at_most(worst.value_pa, worst.limit.limit_pa).holds
        yield Aim(
            key="breathing.limits",
            name=worst.limit.name,
            value=worst.value_pa,
            limit=worst.limit.limit_pa,
            unit="Pa",
            at_least=False,
            kept=kept,
            against="" if kept else sentences(_SECTION)["breathing.limits"],
        )


def _aim(target: Target, value: float, words: dict[str, str | int | float], reason: str = "against") -> Aim:
    """An aim with a row in the table of limits, and its sentence where it is missed."""
    bound, said = limit(target.limit), sentences(f"{_SECTION}.{target.key}")
    kept = target.short(value) == 0.0
    return Aim(
        key=target.key,
        name=said["name"],
        value=value,
        limit=bound.value,
        unit=bound.unit,
        at_least=target.at_least,
        kept=kept,
        against="" if kept else filled(said[reason], words),
    )
