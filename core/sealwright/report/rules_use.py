"""Verdicts on use: breathing, filter, straps, thread, printing, and what is predicted."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ..physics.contact_result import CAPILLARY_KPA
from ..physics.limits import limit_of
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
    if report["prediction"] is not None:
        yield from _prediction(report["prediction"])


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


def _prediction(section: dict[str, Any]) -> Iterator[Verdict]:
    if section["contact"] is None:
        yield Verdict(
            "prediction.refusal",
            "Predicted hold on the face",
            "fail",
            None,
            "",
            None,
            "the mask finds its balance on the face",
            section["refusal"],
            "",
            "computed",
            "C",
        )
        return
    yield _closed(section["contact"])
    yield _fit_factor(section["fit_factor"])
    yield _pressure(section["comfort"], section["contact"])


def _closed(contact: dict[str, Any]) -> Verdict:
    closed, held = contact["share_closed"], contact["share_held"]
    return Verdict(
        "prediction.contact.share_held",
        "Predicted hold of the seal",
        graded(held >= 1.0, closed >= 1.0),
        held,
        "1",
        1.0,
        f"all of the line pressed harder than {contact['held_against_pa']:.0f} Pa",
        f"{100 * closed:.1f} % of the seal line touches, {100 * held:.1f} % holds against breathing out.",
        "" if held >= 1.0 else "Pull the straps tighter, move the lugs, or see the strip chart for where.",
        "doi 10.1016/j.jbiomech.2009.10.029 (margin); 42 CFR 84.172 (25 mmH2O)",
        "V",
    )


def _fit_factor(fit: dict[str, Any]) -> Verdict:
    gates, low, mid = limit_of("fit_factor"), fit["quantiles"]["p5"], fit["quantiles"]["p50"]
    good = low >= gates["pass"]
    worst = max(fit["region_share"].items(), key=lambda item: (item[1], item[0]))
    return Verdict(
        "prediction.fit_factor.quantiles",
        "Predicted range of the fit factor",
        graded(good, mid >= gates["pass"]),
        low,
        "1",
        float(gates["pass"]),
        f"at least {gates['pass']} in the fit test of a half mask",
        f"Between about {_rough(low)} and {_rough(fit['quantiles']['p95'])} for 9 of 10 plausible wearers, "
        f"scans and straps; {100 * fit['chance_pass']:.0f} % reach {gates['pass']}. "
        f"{100 * worst[1]:.0f} % of the leak is at the {worst[0].replace('_', ' ')}.",
        "" if good else "Add a soft layer of 1.5 to 2 mm under the band; a better scan narrows the range.",
        gates["pass_source"],
        gates["pass_confidence"],
    )


def _rough(factor: float) -> str:
    """A fit factor in two digits: it is not known any better."""
    return f"{float(f'{factor:.2g}'):.0f}"


def _pressure(comfort: dict[str, Any], contact: dict[str, Any]) -> Verdict:
    high, over = comfort["high_kpa"], comfort["over_capillary_share"]
    peak = max(comfort["region_peak_kpa"].items(), key=lambda item: (item[1], item[0]))
    return Verdict(
        "prediction.comfort.high_kpa",
        "Predicted pressure on the skin",
        graded(high <= CAPILLARY_KPA, over <= 0.5),
        high,
        "kPa",
        CAPILLARY_KPA,
        f"95 % of the touching skin under {CAPILLARY_KPA} kPa (32 mmHg); over half of it above fails",
        f"95 % of the skin stays under {high:.1f} kPa, mean {contact['mean_kpa']:.1f} kPa; the highest, "
        f"{peak[1]:.1f} kPa, is at the {peak[0].replace('_', ' ')}. Advised: {comfort['advised_h']:.1f} h.",
        "" if high <= CAPILLARY_KPA else "Loosen the straps, widen the band, or ease the place of the peak.",
        "Landis 1930 as cited by a secondary paper; thresholds of 10 to 40 mmHg are reported",
        "V",
    )
