"""The part of the page about what is expected: prediction with its weaknesses, second pose, breathing."""

from __future__ import annotations

from ...predict.targets import TARGETS
from ..shape import FitReport
from .numbers import fold
from .sentences import sentence
from .text import at, block, data, escaped, facts_table, html_table, listing, number, pill

_TENSIONS = ("to_close", "to_hold", "at_capillary")


def prediction_block(report: FitReport) -> str:
    """What is predicted, with its weaknesses next to it."""
    section = report["prediction"]
    if section is None:
        return ""
    parts = [f'<p class="strong">{escaped(section["caution"])}</p><p>{escaped(section["source"])}</p>']
    if section["refusal"]:
        parts.append(f'<p class="headline fail">{escaped(section["refusal"])}</p>')
    if section["comfort"]:
        parts.append(f"<p>{escaped(section['comfort']['advice'])}</p>")
        parts.append(_beside_narrow(report))
        told = (escaped(at(report, f"prediction.tension.{name}")) for name in _TENSIONS)
        parts.append(f"<p>{' '.join(told)}</p>")
    for name, title in (
        ("summary", "The line of numbers"),
        ("hours", "Hours"),
        ("fit_factor", "Fit factor and leak"),
        ("contact", "Balance on the face"),
        ("comfort", "Comfort"),
        ("layer", "Neighbours hold each other: elastic layer beside springs"),
        ("sites", "Pressure by site"),
        ("hanging", "Weight on the straps"),
        ("tension", "Strap tension"),
    ):
        if at(report, f"prediction.{name}"):
            parts.append(fold(title, facts_table(report, f"prediction.{name}", ("advice", *_TENSIONS))))
    weak = listing([escaped(w) for w in section["weaknesses"]])
    parts.append(f"<h3>What is weak in this</h3>{weak}")
    return block("What is predicted", *parts, name="prediction")


def aims_block(report: FitReport) -> str:
    """What the design aims at, and what stands in the way of an aim that is missed."""
    section = report["aims"]
    if section is None:
        return ""
    rows = [
        (
            pill("pass" if row["kept"] else "warn"),
            escaped(row["name"]),
            data(report, f"aims.rows.{index}.value", row["value_text"]),
            escaped(row["limit_text"]),
            escaped(row["against"]),
        )
        for index, row in enumerate(section["rows"])
    ]
    return block(
        "What the design aims at",
        f"<p>{escaped(section['about'])}</p>",
        html_table(("kept", "aim", "value", "limit", "what stands in the way"), rows, "aims"),
        name="aims",
    )


def tried_block(report: FitReport) -> str:
    """What would change it: the design, the remedies that help, and the bare band, as they were tried."""
    section = report["tried"]
    if section is None:
        return ""
    rows = []
    for index, row in enumerate(section["rows"]):
        keys = "".join(f"<br><code>{escaped(one)}</code>" for one in row["set"])
        figures = [number(report, f"tried.rows.{index}.{target.key}") for target in TARGETS]
        rows.append((f"{escaped(row['what'])}{keys}", *figures))
    head = ("what", "95 % pressure", "reach a fit factor of 100", "hold in every position")
    return block(
        "What would change it",
        f"<p>{escaped(section['told'])}</p>",
        html_table(head, rows, "tried"),
        f"<p><small>{escaped(section['about'])}</small></p>",
        name="tried",
    )


_OFFSETS = ("mean_mm", "least_mm", "most_mm")
_OF_SURFACE = ("worst_cm2", "pressure_p95", "share_reaching_100", "share_holding")


def surface_block(report: FitReport) -> str:
    """The even and the shaped contact surface beside each other, and the offsets by sector."""
    section = report["contact_surface"]
    if section is None:
        return ""
    rows = []
    for name, words in (("even", "even"), ("best", "shaped")):
        if at(report, f"contact_surface.{name}") is not None:
            figures = [_with_error(report, f"contact_surface.{name}", key) for key in _OF_SURFACE]
            pull = number(report, f"contact_surface.{name}.pull_n")
            ratio = number(report, f"contact_surface.{name}.layer_over_springs")
            peak = number(report, f"contact_surface.{name}.layer_peak_kpa")
            rows.append((words, *figures, pull, ratio, peak))
    head = (
        "surface",
        "worst 1 cm2",
        "95 % pressure",
        "reach a fit factor of 100",
        "hold",
        "pull",
        "layer / springs",
        "highest in the layer",
    )
    parts = [html_table(head, rows, "surfaces")] if rows else []
    if section["sectors"]:
        offsets = [
            (escaped(row["sector"]), *(number(report, f"contact_surface.sectors.{i}.{k}") for k in _OFFSETS))
            for i, row in enumerate(section["sectors"])
        ]
        parts += [
            "<h3>Offsets by sector, above zero away from the skin</h3>",
            html_table(("sector", "mean", "least", "most"), offsets, "offsets"),
            facts_table(report, "contact_surface", ("outcome", "shaped", "told", "even", "best", "sectors")),
        ]
    return block("The contact surface", f"<p>{escaped(section['told'])}</p>", *parts, name="contact-surface")


def _with_error(report: FitReport, path: str, key: str) -> str:
    """A number with what the draws leave unsure."""
    unit = "" if key.startswith("share") else "_kpa"
    return f"{number(report, f'{path}.{key}{unit}')} &plusmn; {number(report, f'{path}.{key}_error{unit}')}"


def _beside_narrow(report: FitReport) -> str:
    """The band beside a narrow hard edge, in one sentence; nothing where they were not compared."""
    if at(report, "prediction.comfort.beside_narrow_edge") is None:
        return ""
    names = ("narrow_mm", "narrow_mean_kpa", "mean_ratio", "peak_ratio")
    width, mean, more, peak = (number(report, f"prediction.comfort.beside_narrow_edge.{n}") for n in names)
    return sentence("expected.beside_narrow_edge", width=width, mean=mean, more=more, peak=peak)


def _tightest(report: FitReport) -> str:
    """The limits that are not kept, or the one that comes nearest."""
    rows = report["breathing"]["limits"] if report["breathing"] else []
    ranked = sorted(range(len(rows)), key=lambda i: -rows[i]["value_pa"] / rows[i]["limit_pa"])
    over = [i for i in ranked if not rows[i]["kept"]] or ranked[:1]
    return "<br>".join(
        f"{_kept(rows[i]['kept'])} {escaped(rows[i]['name'])}: "
        f"{number(report, f'breathing.limits.{i}.value_pa')} at "
        f"{number(report, f'breathing.limits.{i}.flow_l_min')}, limit "
        f"{number(report, f'breathing.limits.{i}.limit_pa')} ({escaped(rows[i]['confidence'])})"
        for i in over
    )


def _kept(kept: bool) -> str:
    return '<span class="pill pass">✓ kept</span>' if kept else '<span class="pill warn">! over</span>'


def second_pose_block(report: FitReport) -> str:
    """The same body with the face in another pose."""
    section = report["second_pose"]
    if section is None:
        return ""
    refusal = f'<p class="headline fail">{escaped(section["refusal"])}</p>' if section["refusal"] else ""
    weak = listing([escaped(w) for w in section["weaknesses"]])
    return block(
        "In the second pose",
        refusal,
        facts_table(report, "second_pose", ("refusal",)),
        f"<h3>What is weak in this</h3>{weak}",
        name="second-pose",
    )


def breathing_block(report: FitReport) -> str:
    """Resistance against the published limits, and rebreathed air."""
    section = report["breathing"]
    if section is None:
        return ""
    limits = []
    for index, row in enumerate(section["limits"]):
        path = f"breathing.limits.{index}"
        limits.append(
            (
                _kept(row["kept"]),
                escaped(row["name"]),
                escaped(row["scope"]),
                number(report, f"{path}.flow_l_min"),
                number(report, f"{path}.value_pa"),
                number(report, f"{path}.limit_pa"),
                f"{escaped(row['source'])} ({escaped(row['confidence'])})",
            )
        )
    gas = []
    for index, breath in enumerate(section["carbon_dioxide"]):
        path = f"breathing.carbon_dioxide.{index}"
        gas.append(
            (
                _kept(breath["kept"]),
                escaped(breath["breath"]),
                number(report, f"{path}.tidal_l"),
                number(report, f"{path}.inhaled_percent"),
                number(report, f"{path}.limit_percent"),
            )
        )
    source = f"{escaped(section['carbon_dioxide_source'])} ({escaped(section['carbon_dioxide_confidence'])})"
    head = ("", "limit of", "of what", "flow", "computed", "limit", "source")
    return block(
        "Breathing",
        "<h3>Resistance, clean and dry</h3>",
        sentence(
            "expected.bores",
            tightest=_tightest(report),
            bore=number(report, "breathing.narrowest_bore_mm"),
            valve=number(report, "breathing.valve_bore_mm"),
        ),
        fold(f"All {len(limits)} published limits", html_table(head, limits)),
        "<h3>Carbon dioxide breathed in again, estimates</h3>",
        sentence(
            "expected.dead_space",
            total=number(report, "breathing.dead_space_ml"),
            chamber=number(report, "breathing.dead_space_chamber_ml"),
            bore=number(report, "breathing.dead_space_port_ml"),
            holder=number(report, "breathing.dead_space_holder_ml"),
        ),
        html_table(("", "breath", "volume", "computed", "limit"), gas),
        f"<p><small>Limit: {source}.</small></p>",
        "<h3>What these stand on</h3>" + listing([escaped(a) for a in section["assumptions"]]),
        name="breathing",
    )
