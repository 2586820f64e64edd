"""The cautions that stand at the top of every report and in every file that leaves the house."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Caution:
    """One caution.

    Attributes
    ----------
    key : short name, the same in every report.
    text : what to do or not to do.
    basis : rule or reason behind it.
    confidence : V = read on a page that restates the rule; M = from memory, check before relying on it.
    """

    key: str
    text: str
    basis: str
    confidence: str


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "not_certified",
        "This is a home-made mask. It is not certified and not tested; it has no NIOSH, EN or FFP class. Do "
        "not rely on it for protection before it has passed a fit test.",
        "42 CFR 84; EU 2016/425",
        "M",
    ),
    Caution(
        "prediction",
        "Every prediction in this report is computed. A prediction is no fit test: the mask protects nobody "
        "until a competent person has tested its fit on the wearer, before first use, every year, and after "
        "any change of weight, teeth or face.",
        "29 CFR 1910.134 App A; fit is lost by 10, 20, 25 % of wearers after 1, 2, 3 years",
        "V for the loss of fit (doi 10.1080/15459624.2015.1116692), M for the rule",
    ),
    Caution(
        "air",
        "Never use it where oxygen may be below 19.5 %, in air that is immediately dangerous to life or "
        "health (IDLH), in confined spaces, in fire, or against unknown substances. A particle filter stops "
        "no gas and no vapour.",
        "29 CFR 1910.134 (b), (d); EN scope: not below 17 % oxygen",
        "17 % V, rest M",
    ),
    Caution(
        "facial_hair",
        "No facial hair, stubble, scar, dressing or jewellery under the seal: any of them breaks it.",
        "29 CFR 1910.134 (g)(1)(i)(A)",
        "V",
    ),
    Caution(
        "seal_check",
        "Do a user seal check every time the mask is put on: cover the filter and breathe in, then block the "
        "way out and breathe out gently. The mask must hold both without a leak at the edge.",
        "29 CFR 1910.134 (g)(1)(iii), App B-1",
        "V",
    ),
    Caution(
        "persons",
        "Not for children. Not for sleeping, sport, or persons with trouble of breathing, heart or panic "
        "without medical advice.",
        "29 CFR 1910.134 (e)",
        "M",
    ),
    Caution(
        "effort",
        "Take it off at once, in clean air, at headache, dizziness or hard breathing. Dead space and "
        "breathing resistance grow as the filter loads.",
        "practice",
        "M",
    ),
    Caution(
        "skin",
        "Stop at any skin reaction (redness that stays, itching, blisters). A filament sold as biocompatible "
        "does not make a printed part so: additives, nozzle and residues touch the skin too. Have materials "
        "judged for cytotoxicity, sensitisation and irritation.",
        "ISO 10993-1, -5, -10, -23",
        "V for -10 and -23, rest M",
    ),
    Caution(
        "print_leaks",
        "Printed walls leak between the layers and hold soil: print with 4 or more walls or coat, and test "
        "the finished part for leaks. Coatings must be fully cured, washed and aired; no uncured resin on "
        "the breathing side.",
        "practice",
        "M",
    ),
    Caution(
        "fibres",
        "Cut glass media and fibre-filled filament must not shed into the breathing path: seal every cut "
        "edge, and never cut loose glass media for use near the mouth.",
        "practice",
        "M",
    ),
    Caution(
        "heat",
        "PLA softens at 55 to 60, PETG near 80, ABS near 105 degrees C: no autoclave, no hot dishwasher, no "
        "hot car. Clean with mild soap; alcohol only after a trial on scrap.",
        "practice",
        "M",
    ),
)
