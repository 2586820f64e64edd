"""What the maker does: print plan, parts list, assembly, cleaning."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from ...hardware.allowance import material_name
from ...verdicts.words import side_on_bed
from ..shape import (
    FitReport,
    ReportFilter,
    ReportHardwareHolder,
    ReportHardwarePorts,
    ReportPrintingMaterialChanges,
    ReportPrintingPartsEachTouchUp,
)
from .numbers import fold
from .sentences import sentence
from .text import at, block, escaped, facts_table, html_table, listing, number, number_at


def printing_block(report: FitReport) -> str:
    """The print plan of every part, with what to look after by hand."""
    section = report["printing"]
    if section is None:
        return block("Printing", sentence("printing.none"), name="printing")
    rows, touch = [], []
    for name, part in section["parts"].items():
        path = f"printing.parts.{name}"
        size = " × ".join(number(report, f"{path}.size_mm.{i}", "") for i in range(3)) + " <i>mm</i>"
        rows.append(
            (
                escaped(name),
                escaped(material_name(part["material"])),
                escaped(side_on_bed(part["up"])),
                size,
                number(report, f"{path}.layers") + " × " + number(report, f"{path}.layer_mm"),
                number(report, f"{path}.mass_g"),
                number(report, f"{path}.time_min"),
                number(report, f"{path}.longest_bridge_mm"),
                number(report, f"{path}.thinnest_wall_mm"),
                "none" if part["support_free"] else '<span class="pill warn">! needed</span>',
            )
        )
        ranked = sorted(part["touch_up"], key=lambda t: (t["kind"] != "support", t["layer"]))
        touch += [_touch(name, t) for t in ranked]
    head = (
        "part", "material", "on the bed", "size", "layers", "mass", "time",
        "longest bridge", "thinnest wall", "supports",
    )  # fmt: skip
    total = sentence(
        "printing.total",
        mass=number(report, "printing.total_mass_g"),
        time=number(report, "printing.total_time_min"),
        cost=number(report, "printing.total_cost_money", "in your money"),
    )
    assumed = [
        escaped(a) for a in dict.fromkeys(a for p in section["parts"].values() for a in p["assumptions"])
    ]
    return block(
        "Printing",
        html_table(head, rows),
        total,
        _material_changes(section["material_changes"]),
        sentence("printing.solid"),
        f"<details><summary>To look after by hand: {len(touch)} places</summary>{listing(touch)}</details>"
        if touch
        else "",
        *(
            fold(
                f"Numbers of the {name}, with limits and sources",
                facts_table(report, f"printing.parts.{name}"),
            )
            for name in section["parts"]
        ),
        f"<details><summary>What the plan stands on</summary>{listing(assumed)}</details>",
        name="printing",
    )


_MATERIALS: tuple[Literal["soft_material", "rigid_material"], ...] = ("soft_material", "rigid_material")


def _material_changes(rings: Sequence[ReportPrintingMaterialChanges]) -> str:
    """When to change the material for soft rings printed in place."""
    out = []
    for ring in rings:
        soft, rigid = (escaped(material_name(ring[key])) for key in _MATERIALS)
        words = {"soft": f"{soft} alone", "both": f"{soft} and {rigid} in each layer", "rigid": rigid}
        rows = [
            (str(c["layer"]), f"{c['z_mm']:.2f} <i>mm</i>", words[c["material"]]) for c in ring["changes"]
        ]
        lean = "" if ring["level"] else " " + sentence("printing.leaning")
        out.append(
            sentence(
                "printing.soft_ring",
                ring=escaped(ring["ring"]),
                body=escaped(ring["body"]),
                layers=ring["layers"],
                first_layer=f"{ring['first_layer_mm']:g}",
                layer=f"{ring['layer_mm']:g}",
                lean=lean,
            )
            + html_table(("from layer", "height of its bottom", "print with"), rows)
        )
    return "".join(out)


def _touch(part: str, entry: ReportPrintingPartsEachTouchUp) -> str:
    place = ", ".join(f"{c:.0f}" for c in entry["point_mm"])
    return f"<b>{escaped(part)}</b>, layer {entry['layer']}, at ({place}) mm: {escaped(entry['what'])}"


def make_block(report: FitReport) -> str:
    """Parts list, assembly and cleaning."""
    if report["kind"] != "body":
        words = {
            "tube": sentence("making.tube"),
            "shell": sentence("making.shell"),
            "trim": sentence("making.trim"),
        }
        return block("Making it", words[report["kind"]], name="making")
    return block(
        "Making it",
        "<h3>Parts list</h3>",
        html_table(("quantity", "what", "which"), parts_list(report)),
        "<h3>Order of assembly</h3>",
        listing([escaped(step) for step in assembly(report)], "ol"),
        *_cushion_steps(report),
        "<h3>Cleaning and care</h3>",
        listing([escaped(step) for step in cleaning(report)]),
        name="making",
    )


def _cushion_steps(report: FitReport) -> list[str]:
    """How the cushion is made, under a heading of its own."""
    cushion = report["cushion"]
    if cushion is None or not cushion["steps"]:
        return []
    steps = listing([escaped(step) for step in cushion["steps"]], "ol")
    return [
        f"<h3>Cushion: {escaped(cushion['kind_name'])}</h3>",
        steps,
        f"<p>{escaped(cushion['skin_note'])}</p>",
    ]


def parts_list(report: FitReport) -> list[tuple[str, str, str]]:
    """What is printed and what is bought: quantity, what, which."""
    rows = [
        (
            "1",
            f"printed: {escaped(name)}{_in_place(report, name)}",
            escaped(material_name(report["masses"]["parts"][name]["material"])),
        )
        for name in report["parts"]
    ]
    rows += _cushion_rows(report)
    for index, port in enumerate(report["hardware"]["ports"]):
        rows += _seal(report, port, f"hardware.ports.{index}")
    medium = report["filter"]
    if medium is not None:
        size = f"{number(report, 'filter.length_mm', '')} × {number(report, 'filter.width_mm')}"
        rows.append(("1", f"medium: {escaped(medium['name'])}", f"{escaped(medium['shape'])}, {size}"))
        rows += _edge_rows(report["hardware"]["holder"], medium, report)
    lugs, width_mm = _lugs(report)
    if lugs:
        pairs = max(round(lugs) // 2, 1)
        width = f"{width_mm:g} mm wide, elastic"
        tension = report["prediction"]["tension"] if report["prediction"] else None
        pull = f", about {tension['straps_n'] / lugs:.1f} N at each end" if tension else ""
        rows.append((str(pairs), "strap with buckle or sliding knot", escaped(width + pull)))
    return rows


def _lugs(report: FitReport) -> tuple[float, float]:
    """Number of lugs, and width of their webbing; of several widths the first."""
    straps = "recipe.straps.lug"
    if (own := report.get("own_shape")) is None:
        return number_at(report, f"{straps}.count") or 0.0, number_at(
            report, f"{straps}.strap_width_mm"
        ) or 0.0
    lugs = [n for n in range(len(own["fittings"])) if at(report, f"recipe.fittings.{n}.kind") == "lug"]
    width = number_at(report, f"recipe.fittings.{lugs[0]}.lug.strap_width_mm") if lugs else None
    return float(len(lugs)), width or 0.0


def _cushion_rows(report: FitReport) -> list[tuple[str, str, str]]:
    """The soft material of the cushion, and how much of it."""
    cushion = report["cushion"]
    if cushion is None or cushion["volume_ml"] is None:
        return []
    name = escaped(cushion["material_name"])
    if cushion["mould"] is not None:
        poured = number(report, "cushion.mould.poured_ml")
        return [
            ("1", "printed: mould of two halves, not worn", "mould-a.stl, mould-b.stl"),
            ("", f"silicone for the lip: {poured} to mix", name),
        ]
    if cushion["pattern"] is None:
        return []
    pieces = len(cushion["pattern"]["pieces"])
    thick = number(report, "cushion.thickness_mm")
    area = number(report, "cushion.pattern.area_mm2")
    return [(str(pieces), f"cut: foam strip, {thick} thick, {area} in all", f"{name}; cushion-pattern.pdf")]


def _edge_rows(
    holder: ReportHardwareHolder, medium: ReportFilter, report: FitReport
) -> list[tuple[str, str, str]]:
    """Pre-filter under the frame, and glue where the edge of the medium is glued."""
    rows = []
    if holder.get("prefilter_thickness_mm", 0.0) > 0.0:
        less = 2.0 * holder["prefilter_inset_mm"]
        size = f"{medium['length_mm'] - less:.0f} × {medium['width_mm'] - less:.0f} mm"
        thick = number(report, "hardware.holder.prefilter_thickness_mm")
        rows.append(("1", "pre-filter, may be left out", f"{size}, {thick} thick"))
    if "glue_volume_mm3" in holder:
        glue = number(report, "hardware.holder.glue_volume_mm3")
        rows.append(("", "glue for the edge of the medium: solvent-free, cured, aired", glue))
    return rows


def _in_place(report: FitReport, part: str) -> str:
    return ", in its place in the body" if report["parts"][part]["in_place"] else ""


def _seal(report: FitReport, port: ReportHardwarePorts, path: str) -> list[tuple[str, str, str]]:
    """What seals one port."""
    if "ring" in port and "ring_inside_mm" in port:
        size = f"{number(report, f'{path}.ring_inside_mm', '')} × {number(report, f'{path}.ring_section_mm')}"
        name = f"AS568 / ISO 3601-1 size {escaped(port['ring'])} ({escaped(port['ring_size_confidence'])})"
        return [("1", "O-ring of the port", f"{name}, {size}, 40 to 50 Shore A; measure the ring in hand")]
    if "gasket_thickness_mm" in port:
        return [("1", "flat gasket, 65 Shore A", number(report, f"{path}.gasket_thickness_mm") + " thick")]
    if "flap_diameter_mm" in port:
        ring = f"{number(report, f'{path}.valve_ring_inside_mm', '')} × "
        ring += number(report, f"{path}.valve_ring_section_mm")
        return [
            ("1", "flat silicone flap", number(report, f"{path}.flap_diameter_mm") + " across"),
            ("1", "O-ring of the valve", f"AS568 / ISO 3601-1 size {escaped(port['valve_ring'])}, {ring}"),
        ]
    return []


def assembly(report: FitReport) -> list[str]:
    """Steps in order, for the parts that are there."""
    ports = report["hardware"]["ports"]
    steps = [
        sentence("assembly.pare"),
        sentence("assembly.smooth"),
        sentence("assembly.wash"),
        sentence("assembly.leak_test"),
    ]
    if report["cushion"] is not None:
        steps.append(sentence("assembly.cushion"))
    if any("ring_inside_mm" in port for port in ports):
        steps.append(sentence("assembly.o_ring"))
    if report["filter"] is not None:
        steps.append(_laying(report))
        if report["filter"]["sheds_fibres"]:
            steps.append(sentence("assembly.fibres"))
        steps.append(sentence("assembly.holder"))
    if "retainer" in report["parts"]:
        steps.append(sentence("assembly.retainer"))
    if _lugs(report)[0]:
        steps.append(sentence("assembly.straps"))
    steps += [
        sentence("assembly.put_on"),
        sentence("assembly.seal_check"),
        sentence("assembly.fit_test"),
    ]
    return steps


def _laying(report: FitReport) -> str:
    """How the medium is laid on its seat."""
    if "glue_volume_mm3" in report["hardware"]["holder"]:
        return sentence("assembly.medium")
    squeeze = number(report, "hardware.holder.medium_squeeze_mm")
    return sentence("assembly.medium_pressed", squeeze=squeeze)


def cleaning(report: FitReport) -> list[str]:
    """How to clean and keep it."""
    steps = [
        sentence("cleaning.body"),
        sentence("cleaning.heat"),
        sentence("cleaning.alcohol"),
        sentence("cleaning.look"),
        sentence("cleaning.skin"),
        sentence("cleaning.one_wearer"),
    ]
    medium = report["filter"]
    if medium is not None:
        steps.insert(1, sentence("cleaning.medium", note=medium["efficiency_note"]))
        steps.insert(2, sentence("cleaning.replace_medium"))
    return steps
