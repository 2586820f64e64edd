"""The steps of the layers on the contact face, and the layers advised by height."""

from __future__ import annotations

from ..shape import FitReport
from .sentences import sentence
from .text import block, escaped, facts_table, html_table, number


def contact_face_block(report: FitReport) -> str:
    """What the skin feels of the layers, and which layers over which heights make it less."""
    section = report["contact_face"]
    if section is None:
        return ""
    path = "contact_face"
    numbers = {
        "part": escaped(section["part"]),
        "layer": number(report, f"{path}.layer_mm"),
        "median": number(report, f"{path}.cusp_median_mm"),
        "high": number(report, f"{path}.cusp_p95_mm"),
    }
    if section["covered"]:
        words = sentence("contact_face.covered", **numbers)
    else:
        words = sentence("contact_face.felt", **numbers, over=number(report, f"{path}.over_share"))
    return block(
        "Steps of the contact face",
        words,
        *_advised(report),
        facts_table(report, path, ("part", "covered", "up", "advice")),
        name="contact-face",
    )


def _advised(report: FitReport) -> list[str]:
    """The layers by height, and what they cost."""
    section = report["contact_face"]
    advice = None if section is None else section["advice"]
    if section is None or advice is None:
        return []
    path = "contact_face.advice"
    rows = [
        (
            f"{one['from_mm']:g} to {one['to_mm']:.4g} <i>mm</i>",
            f"<b>{one['layer_mm']:g}</b> <i>mm</i>",
            str(one["layers"]),
            "does not reach here" if one["cusp_mm"] is None else f"{one['cusp_mm']:.2f} <i>mm</i>",
        )
        for one in advice["ranges"]
    ]
    numbers = {
        "layers": number(report, f"{path}.more_layers"),
        "time": number(report, f"{path}.more_time_min"),
        "high": number(report, f"{path}.cusp_p95_mm"),
        "over": number(report, f"{path}.over_share"),
    }
    if section["covered"]:
        words = sentence("contact_face.advice_bare", **numbers)
    else:
        words = sentence("contact_face.advice", **numbers)
    head = ("height over the bed", "layer", "layers", "steps of the face, 95 % no higher")
    return [words, html_table(head, rows, "layers by height"), sentence("contact_face.how")]
