"""Rules on use: breathing, rebreathed air, lugs, holder, thread, printing."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ..limits import Limit, ResistanceLimit, limit
from .measured import Measured
from .rule import Finding, Rule, at_least, at_most, is_true

CERTAIN = "V"
_FAULTS = {"overlap": "share room", "way": "do not go in", "play": "too tight", "loose": "hardly pressed"}


def _breathing(phase: str) -> Callable[[Measured], Iterator[Finding]]:
    """The rule of breathing in or out."""

    def measure(measured: Measured) -> Iterator[Finding]:
        """The worst limit of this phase."""
        checks = measured.breathing.limits if measured.breathing is not None else ()
        rows = [check for check in checks if check.limit.phase == phase]
        if not rows:
            return
        worst = max(rows, key=lambda check: (check.use, check.limit.name))
        bearable = limit("resistance_bearable")
        yield Finding(
            key=f"breathing.limits.{phase}",
            value=worst.value_pa,
            unit="Pa",
            limit=worst.limit.limit_pa,
            basis=_basis(worst.limit),
            passes=tuple(at_most(row.high_pa, row.limit.limit_pa) for row in rows),
            bears=tuple(
                at_most(row.value_pa, bearable.value * row.limit.limit_pa)
                for row in rows
                if row.limit.confidence == CERTAIN
            ),
            words={
                "name": worst.limit.name,
                "limit_pa": worst.limit.limit_pa,
                "flow": worst.limit.flow_l_min,
                "bearable": bearable.value,
                "pressure": worst.value_pa,
                "percent": 100 * worst.use,
            },
        )

    return measure


def _basis(row: ResistanceLimit) -> Limit:
    return Limit(
        key="resistance",
        value=row.limit_pa,
        unit="Pa",
        text=row.name,
        source=row.source,
        confidence=row.confidence,
    )


def _carbon_dioxide(measured: Measured) -> Iterator[Finding]:
    rows = measured.breathing.rebreathing if measured.breathing is not None else ()
    if not rows:
        return
    most, machine = limit("carbon_dioxide"), rows[0].inhaled_percent
    small = max((row.high_percent for row in rows[1:]), default=machine)
    yield Finding(
        key="breathing.carbon_dioxide",
        value=machine,
        unit="%",
        limit=most.value,
        basis=most,
        passes=(at_most(rows[0].high_percent, most), at_most(small, most)),
        bears=(at_most(machine, most),),
        words={"most": most.value, "machine": machine, "small": small},
    )


def _lug(measured: Measured) -> Iterator[Finding]:
    found, good, least = measured.hardware, limit("lug_safety"), limit("lug_safety_least")
    safety = found.lug_safety_factor
    if safety is None:
        return
    yield Finding(
        key="hardware.lug.lug_safety_factor",
        value=safety,
        unit="1",
        limit=good.value,
        basis=good,
        passes=(at_least(safety, good),),
        bears=(at_least(safety, least),),
        words={
            "good": good.value,
            "least": least.value,
            "safety": safety,
            "bears": found.lug_bears_n,
            "pull": found.lug_pull_n,
        },
    )


def _mass(measured: Measured) -> Iterator[Finding]:
    mass, most, tiring = measured.hardware.holder_mass_g, limit("holder_mass"), limit("holder_mass_tiring")
    if mass is None:
        return
    yield Finding(
        key="hardware.holder.holder_mass_solid_g",
        value=mass,
        unit="g",
        limit=tiring.value,
        basis=most,
        passes=(at_most(mass, tiring),),
        bears=(at_most(mass, most),),
        words={"most": most.value, "tiring": tiring.value, "mass": mass},
    )


def _thread(measured: Measured) -> Iterator[Finding]:
    turns, good, least = (
        measured.hardware.thread_engaged_turns,
        limit("thread_turns"),
        limit("thread_turns_least"),
    )
    if turns is None:
        return
    yield Finding(
        key="hardware.holder.thread_engaged_turns",
        value=turns,
        unit="1",
        limit=good.value,
        basis=good,
        passes=(at_least(turns, good),),
        bears=(at_least(turns, least),),
        words={"good": good.value, "least": least.value, "turns": turns},
    )


def _assembly(measured: Measured) -> Iterator[Finding]:
    found, most = measured.assembly, limit("assembly_overlap")
    if found is None or not found.pairs:
        return
    yield Finding(
        key="assembly.overlap_mm3",
        value=found.overlap_mm3,
        unit="mm3",
        limit=most.value,
        basis=most,
        passes=(at_most(found.overlap_mm3, most), is_true(not found.faults)),
        bears=(
            at_most(found.overlap_mm3, most),
            is_true(all(fault in ("play", "loose") for _, _, fault in found.faults)),
        ),
        words={
            "most": most.value,
            "pairs": found.pairs,
            "overlap": found.overlap_mm3,
            "depth": limit("assembly_depth").value,
            "play": limit("assembly_play").value,
            "faults": "; ".join(
                f"{part} and {other} ({_FAULTS[fault]})" for part, other, fault in found.faults
            ),
        },
        reason="reason_bad" if found.faults else "reason",
    )


def _printing(measured: Measured) -> Iterator[Finding]:
    for name, part in measured.prints.items():
        state = ("fits" if part.fits_bed else "large") + ("" if part.support_free else "_supports")
        yield Finding(
            key=f"printing.parts.{name}",
            value=part.longest_bridge_mm,
            unit="mm",
            limit=None,
            basis=limit("overhang_and_bridges"),
            passes=(is_true(part.fits_bed), is_true(part.support_free)),
            bears=(is_true(part.fits_bed),),
            words={"part": name, "bridge": part.longest_bridge_mm},
            reason=f"reason_{state}",
            fix="fix" if part.fits_bed else "fix_large",
        )


USE_RULES = (
    Rule("breathing.limits.inhalation", _breathing("inhalation")),
    Rule("breathing.limits.exhalation", _breathing("exhalation")),
    Rule("breathing.carbon_dioxide", _carbon_dioxide),
    Rule("hardware.lug.lug_safety_factor", _lug),
    Rule("hardware.holder.holder_mass_solid_g", _mass),
    Rule("hardware.holder.thread_engaged_turns", _thread),
    Rule("assembly.overlap_mm3", _assembly),
    Rule("printing.parts.*", _printing),
)
