"""The trade-off of a search as a table to read, a JSON file, and one recipe file for each choice."""

from __future__ import annotations

import json

import numpy as np

from ..recipe import recipe_to_json
from .evaluator import Choice
from .full_check import FullCheck
from .improve import Improvement

FORMAT = "sealwright-improve-1"

CAUTION = (
    "These are predictions on one scan, of sketches where no report is named. Design the choice in full, "
    "read its report, and test its fit on the wearer."
)


def improve_files(found: Improvement) -> dict[str, bytes]:
    """Files by name: ``improve.json``, and ``recipe-<number>.json`` for every line of the front."""
    files = {"improve.json": _encoded(_data(found))}
    for number, choice in enumerate(found.front, start=1):
        files[f"recipe-{number}.json"] = recipe_to_json(choice.recipe).encode("utf-8")
    return files


def improve_text(found: Improvement) -> str:
    """The trade-off for reading: start first, then by rising peak pressure; picks are named."""
    if not found.front:
        return f"None of {found.tried} designs could be worked out: {found.refused}.\n"
    lines = [CAUTION, "", " no   peak    95 %   mean   leak   passes  dead space  what is other"]
    if found.start is not None:
        lines.append(_line("start", found.start, {}))
    names = pick_names(found)
    base = {} if found.start is None else found.start.values
    for number, choice in enumerate(found.front, start=1):
        line = _line(f"{number:>5}", choice, base)
        lines.append(f"{line}  <- {', '.join(names[number])}" if number in names else line)
    lines += ["       kPa     kPa    kPa      %        %         ml", ""]
    if not found.picks:
        lines.append(
            "No design is recommended: designed in full, none that its report lets pass presses and leaks no "
            "more than the start. The lines above are trades on sketches."
        )
    lines += _in_full(found)
    refused = sum(found.refused.values())
    lines.append(f"{found.tried} designs tried, {refused} of them refused.")
    return "\n".join(lines) + "\n"


def _in_full(found: Improvement) -> list[str]:
    """What the reports of the start and of the picks say."""
    rows = {"start": found.start_check} | {name: pick.full for name, pick in found.picks.items()}
    lines = [
        f"  {name}: {check.verdict}, peak {check.peak_kpa:.1f} kPa, leak {100 * check.leak_share:.1f} %"
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


def _line(title: str, choice: Choice, base: dict[str, float]) -> str:
    other = ", ".join(
        f"{key.split('.')[1]} {value:g}"
        for key, value in choice.values.items()
        if base.get(key, value) != value
    )
    pressures = f"{choice.peak_kpa:6.1f}  {choice.p95_kpa:6.1f} {choice.mean_kpa:6.1f}"
    leaks = f"{100 * choice.leak_share:6.1f}   {100 * choice.pass_chance:6.0f}"
    return f"{title} {pressures} {leaks}  {choice.chamber_ml:9.0f}   {other}"


def _data(found: Improvement) -> dict[str, object]:
    better = [c.values for c in found.better]
    names = pick_names(found)
    rows = []
    for number, choice in enumerate(found.front, start=1):
        row = {"recipe": f"recipe-{number}.json", **_row(choice)}
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
    numbers = {"peak_kpa": check.peak_kpa, "leak_share": check.leak_share}
    held = {key: value if np.isfinite(value) else None for key, value in numbers.items()}
    return {"verdict": check.verdict, "failed": list(check.failed), **held}


def _row(choice: Choice) -> dict[str, object]:
    return {
        "values": choice.values,
        "peak_kpa": choice.peak_kpa,
        "p95_kpa": choice.p95_kpa,
        "mean_kpa": choice.mean_kpa,
        "leak_share": choice.leak_share,
        "pass_chance": choice.pass_chance,
        "dead_space_chamber_ml": choice.chamber_ml,
        "seal_line_length_mm": choice.seal_line_mm,
    }


def _encoded(data: dict[str, object]) -> bytes:
    return (json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode("utf-8")
