"""The ways up of the body beside each other, on the page."""

from __future__ import annotations

from ...printing.printer import WAYS_UP
from ..shape import FitReport
from .sentences import sentence
from .text import block, escaped, html_table, number

_SUPPORTS = {"none": "none", "ribs": "ribs that break away", "needed": "needed"}


def _supports(report: FitReport, index: int) -> str:
    """What bears what hangs over, and what it weighs."""
    one = (report["ways_up"] or [])[index]
    if one["supports"] != "ribs":
        return _SUPPORTS[one["supports"]]
    least = "" if one["exact"] else "at least "
    return f"{_SUPPORTS['ribs']}, {least}{number(report, f'ways_up.{index}.ribs_g')}"


def ways_block(report: FitReport) -> str:
    """What each way up of the body costs and brings; nothing where none was rated."""
    ways = report["ways_up"]
    if not ways:
        return ""
    rows = []
    for index, one in enumerate(ways):
        path, name = f"ways_up.{index}", escaped(WAYS_UP[one["way"]])
        wall = ("port_front_mm", "chamber_ml", "moment_nmm")
        rows.append(
            (
                f"<b>{name}</b>, chosen" if one["chosen"] else name,
                number(report, f"{path}.height_mm"),
                number(report, f"{path}.layers"),
                number(report, f"{path}.time_min"),
                number(report, f"{path}.overhang_mm2"),
                number(report, f"{path}.bed_mm2"),
                _supports(report, index),
                f"{number(report, f'{path}.cusp_median_mm', '')} / {number(report, f'{path}.cusp_p95_mm')}",
                number(report, f"{path}.scarred_share"),
                *(
                    [escaped(f"cannot be made: {one['refused']}"), "", ""]
                    if one["refused"]
                    else [number(report, f"{path}.{key}") for key in wall]
                ),
            )
        )
    head = (
        "way up", "height", "layers", "time", "overhang", "on the bed", "supports",
        "steps, median / 95 %", "ribs under the contact face", "port before the lips", "chamber", "moment",
    )  # fmt: skip
    return block(
        "Ways up for the body", sentence("ways.about"), html_table(head, rows, "ways up"), name="ways-up"
    )
