"""Verdicts on use: breathing, holder, lugs, thread, printing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from .verdict import Verdict, graded

_HOLDER_LIMIT_G = 300.0
_BEARABLE = 1.5  # the limits are for certified masks: up to this much over one is a warning


def use_verdicts(report: dict[str, Any]) -> Iterator[Verdict]:
    """Judge the sections about use; sections that are None are passed over."""
    if report["breathing"] is not None:
        yield from _breathing(report["breathing"])
    yield from _hardware(report["hardware"])
    if report["printing"] is not None:
        for name, part in report["printing"]["parts"].items():
            yield _printing(name, part)


def _breathing(section: dict[str, Any]) -> Iterator[Verdict]:
    for phase, word in (("inhalation", "in"), ("exhalation", "out")):
        rows = [r for r in section["limits"] if r["phase"] == phase]
        worst = max(rows, key=lambda r: (r["value_pa"] / r["limit_pa"], r["name"]))
        over = max((r["value_pa"] / r["limit_pa"] for r in rows if r["confidence"] == "V"), default=0.0)
        good = all(r["kept"] for r in rows)
        fix = "Use more medium area, a lighter medium or a wider bore."
        if phase == "exhalation":
            fix = "Add an exhalation valve, or use more medium area."
        yield Verdict(
            f"breathing.limits.{phase}",
            f"Breathing {word} through the clean filter",
            graded(good, over <= _BEARABLE),
            worst["value_pa"],
            "Pa",
            worst["limit_pa"],
            f"{worst['name']}: {worst['limit_pa']:g} Pa at {worst['flow_l_min']:g} L/min; over 1.5 times a "
            "verified limit fails (ours)",
            f"{worst['value_pa']:.0f} Pa at {worst['flow_l_min']:g} L/min, "
            f"{100 * worst['value_pa'] / worst['limit_pa']:.0f} % of the tightest limit.",
            "" if good else fix,
            worst["source"],
            worst["confidence"],
        )
    machine, *others = section["carbon_dioxide"]
    small = max(row["inhaled_percent"] for row in others)
    yield Verdict(
        "breathing.carbon_dioxide",
        "Rebreathed carbon dioxide",
        graded(machine["kept"] and small <= machine["limit_percent"], machine["kept"]),
        machine["inhaled_percent"],
        "%",
        machine["limit_percent"],
        f"mean of the inhaled air at most {machine['limit_percent']:g} % with the standard's breath",
        f"Upper bound {machine['inhaled_percent']:.2f} % with the standard's breath, {small:.2f} % with "
        "small breaths.",
        ""
        if small <= machine["limit_percent"]
        else "Bring the wall nearer to the face to cut dead space; stop at headache or dizziness.",
        section["carbon_dioxide_source"],
        section["carbon_dioxide_confidence"],
    )


def _hardware(hardware: dict[str, Any]) -> Iterator[Verdict]:
    safety = hardware["lug"].get("lug_safety_factor")
    if safety is not None:
        yield Verdict(
            "hardware.lug.lug_safety_factor",
            "Strength of the strap lugs",
            graded(safety >= 2.0, safety >= 1.0),
            safety,
            "1",
            2.0,
            "at least 2 against the pull in the recipe; under 1 fails",
            f"A lug bears {hardware['lug']['lug_bears_n']:.0f} N, "
            f"{safety:.1f} times the pull of {hardware['lug']['lug_pull_n']:.0f} N.",
            "" if safety >= 2.0 else "Make the lug bars thicker or the straps narrower.",
            "pull of 50 N for 10 s: EN 140; factor 2: practice",
            "M",
        )
    holder = hardware["holder"]
    mass = holder.get("holder_mass_solid_g")
    if mass is not None:
        yield Verdict(
            "hardware.holder.holder_mass_solid_g",
            "Mass hanging on the port",
            graded(mass <= 0.5 * _HOLDER_LIMIT_G, mass <= _HOLDER_LIMIT_G),
            mass,
            "g",
            _HOLDER_LIMIT_G,
            "at most 300 g; over 150 g tires the neck (ours)",
            f"The holder weighs up to {mass:.0f} g printed solid, without medium.",
            "" if mass <= 0.5 * _HOLDER_LIMIT_G else "Take a smaller filter or thinner walls.",
            "EN 140, restated by a secondary page",
            "V",
        )
    turns = holder.get("thread_engaged_turns")
    if turns is not None:
        yield Verdict(
            "hardware.holder.thread_engaged_turns",
            "Engaged turns of the thread",
            graded(turns >= 3.0, turns >= 1.5),
            turns,
            "1",
            3.0,
            "at least 3 turns",
            f"{turns:.1f} turns engage when the holder is home.",
            "" if turns >= 3.0 else "Give the port more turns.",
            "usual practice for printed threads",
            "M",
        )


def _printing(name: str, part: dict[str, Any]) -> Verdict:
    good = part["fits_bed"] and part["support_free"]
    fix = "" if good else "Print with supports outside the contact band, or see the touch-up list."
    if not part["fits_bed"]:
        fix = "Use a larger bed, or print the part in pieces you can join airtight."
    state = "fits the bed" if part["fits_bed"] else "does not fit the bed"
    support = "needs no supports" if part["support_free"] else "needs supports"
    return Verdict(
        f"printing.parts.{name}",
        f"Printing of the {name}",
        graded(good, part["fits_bed"]),
        part["longest_bridge_mm"],
        "mm",
        None,
        "fits the bed, no supports",
        f"It {state} and {support}; longest bridge {part['longest_bridge_mm']:.1f} mm.",
        fix,
        "overhang and bridging practice for molten strands",
        "V",
    )
