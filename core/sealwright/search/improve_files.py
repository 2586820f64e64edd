"""The trade-off of a search as a table to read, a JSON file, and one recipe file for each choice."""

from __future__ import annotations

import json
from collections.abc import Mapping

import numpy as np

from ..recipe import recipe_to_json
from .evaluator import Choice
from .full_check import FullCheck
from .improve import Improvement

FORMAT = "sealwright-improve-2"

CAUTION = (
    "These are predictions on one scan, of sketches where no report is named. Design the choice in full, "
    "read its report, and test its fit on the wearer."
)


ABOUT = (
    "presses: median over the draws of the pressure that 95 % of the touching skin stay below. works: share "
    "of the draws that hold in every head position and reach a fit factor of 100. mass: all that hangs on "
    "the face."
)


def recipe_name(number: int) -> str:
    """File of a line of the front, which are counted from 1."""
    return f"recipe-{number}.json"


def improve_files(found: Improvement) -> dict[str, bytes]:
    """Files by name: ``improve.json``, and ``recipe-<number>.json`` for every line of the front."""
    files = {"improve.json": _encoded(_data(found))}
    for number, choice in enumerate(found.front, start=1):
        files[recipe_name(number)] = recipe_to_json(choice.recipe).encode("utf-8")
    return files


def improve_text(found: Improvement) -> str:
    """The trade-off for reading: start first, then by rising pressure; picks are named."""
    if not found.front:
        return f"None of {found.tried} designs could be worked out: {found.refused}.\n"
    lines = [CAUTION, "", " no   presses  works  holds  reaches   mass  chamber  what is other"]
    if found.start is not None:
        lines.append(_line("start", found.start, {}))
    names = pick_names(found)
    base = {} if found.start is None else found.start.values
    for number, choice in enumerate(found.front, start=1):
        line = _line(f"{number:>5}", choice, base)
        lines.append(f"{line}  <- {', '.join(names[number])}" if number in names else line)
    lines += ["          kPa      %      %        %      g       ml", "", ABOUT, ""]
    if not found.picks:
        lines.append(
            "No design is recommended: designed in full, none that its report lets pass presses no harder "
            "than the start and works no less often. The lines above are trades on sketches."
        )
    lines += _in_full(found)
    refused = sum(found.refused.values())
    lines.append(f"{found.tried} designs tried, {refused} of them refused.")
    return "\n".join(lines) + "\n"


def _in_full(found: Improvement) -> list[str]:
    """What the reports of the start and of the picks say."""
    rows = {"start": found.start_check} | {name: pick.full for name, pick in found.picks.items()}
    lines = [
        f"  {name}: {check.verdict}, presses {check.pressure_kpa:.1f} kPa, works in "
        f"{100 * check.working:.1f} %, straps {check.pull_n:.1f} N, hangs {check.mass_g:.0f} g"
        + (f"; failed: {', '.join(check.failed)}" if check.failed else "")
        for name, check in rows.items()
        if check is not None
    ]
    return ["Designed in full and judged as in the report:", *lines, ""] if lines else []


def pick_names(found: Improvement) -> dict[int, list[str]]:
    """Names of the picks by their number in the table."""
    names: dict[int, list[str]] = {}
    for name, pick in found.picks.items():
        number = next(n for n, c in enumerate(found.front, start=1) if c.values == pick.values)
        names.setdefault(number, []).append(name)
    return names


def spoken_change(choice: Choice, base: Mapping[str, float]) -> str:
    """The values of a choice that are not those of the start, in words."""
    return ", ".join(
        f"{key.split('.')[1]} {spoken_value(value)}"
        for key, value in choice.values.items()
        if base.get(key, value) != value
    )


def spoken_value(value: float) -> str:
    """A value of a choice in words; a switch is on or off."""
    return ("on" if value else "off") if isinstance(value, bool) else f"{value:g}"


def _line(title: str, choice: Choice, base: dict[str, float]) -> str:
    said = choice.numbers
    shares = "  ".join(f"{100 * share:5.1f}" for share in (said.working, said.holding, said.reaching))
    sizes = f"{choice.mass_g:7.0f}  {choice.chamber_ml:7.0f}"
    return f"{title} {said.pressure_kpa:8.2f}  {shares} {sizes}  {spoken_change(choice, base)}"


def _data(found: Improvement) -> dict[str, object]:
    better = [c.values for c in found.better]
    names = pick_names(found)
    rows = []
    for number, choice in enumerate(found.front, start=1):
        row = {"recipe": recipe_name(number), **_row(choice)}
        checked = next((p.full for p in found.picks.values() if p.values == choice.values), None)
        told = {"better_than_start": choice.values in better, "picks": names.get(number, [])}
        rows.append({**row, **told, "full": _full(checked)})
    start = None if found.start is None else {**_row(found.start), "full": _full(found.start_check)}
    refused = dict(sorted(found.refused.items()))
    return {
        "format": FORMAT,
        "caution": CAUTION,
        "start": start,
        "front": rows,
        "tried": found.tried,
        "refused": refused,
    }


def _full(check: FullCheck | None) -> dict[str, object] | None:
    """What the report says of a design; None where it was only sketched. No hold gives null numbers."""
    if check is None:
        return None
    held = np.isfinite(check.pressure_kpa)
    return {
        "verdict": check.verdict,
        "failed": list(check.failed),
        "pressure_p95_kpa": check.pressure_kpa if held else None,
        "share_working": check.working if held else None,
        "strap_pull_n": check.pull_n if held else None,
        "mass_g": check.mass_g if held else None,
    }


def _row(choice: Choice) -> dict[str, object]:
    return {
        "values": choice.values,
        "pressure_p95_kpa": choice.numbers.pressure_kpa,
        "share_working": choice.numbers.working,
        "share_holding": choice.numbers.holding,
        "share_reaching_100": choice.numbers.reaching,
        "mass_g": choice.mass_g,
        "dead_space_chamber_ml": choice.chamber_ml,
        "seal_line_length_mm": choice.seal_line_mm,
    }


def _encoded(data: dict[str, object]) -> bytes:
    return (json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode("utf-8")
