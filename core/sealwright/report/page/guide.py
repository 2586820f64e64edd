"""What the maker does: print plan, parts list, assembly, cleaning."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ...hardware.allowance import material_name
from ...verdicts.words import side_on_bed
from .numbers import fold
from .text import block, facts_table, listing, number, table, text

Report = Mapping[str, Any]


def printing_block(report: Report) -> str:
    """The print plan of every part, with what to look after by hand."""
    section = report["printing"]
    if section is None:
        return block("Printing", "<p>No print plan was made.</p>", name="printing")
    rows, touch = [], []
    for name, part in section["parts"].items():
        path = f"printing.parts.{name}"
        size = " × ".join(number(report, f"{path}.size_mm.{i}", "") for i in range(3)) + " <i>mm</i>"
        rows.append(
            (
                text(name),
                text(material_name(part["material"])),
                text(side_on_bed(part["up"])),
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
    total = (
        f"<p>In all {number(report, 'printing.total_mass_g')}, {number(report, 'printing.total_time_min')}, "
        f"{number(report, 'printing.total_cost_money', 'in your money')} for material and electricity.</p>"
    )
    assumed = [text(a) for a in dict.fromkeys(a for p in section["parts"].values() for a in p["assumptions"])]
    return block(
        "Printing",
        table(head, rows),
        total,
        _material_changes(section["material_changes"]),
        "<p>Solid inside, at least 4 walls, so that the wall is airtight. Keep supports off the contact "
        "band.</p>",
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


def _material_changes(rings: Sequence[Mapping[str, Any]]) -> str:
    """When to change the material for soft rings printed in place."""
    out = []
    for ring in rings:
        soft, rigid = (text(material_name(ring[f"{kind}_material"])) for kind in ("soft", "rigid"))
        words = {"soft": f"{soft} alone", "both": f"{soft} and {rigid} in each layer", "rigid": rigid}
        rows = [
            (str(c["layer"]), f"{c['z_mm']:.2f} <i>mm</i>", words[c["material"]]) for c in ring["changes"]
        ]
        lean = "" if ring["level"] else " It leans in the print: only a printer with two tools can make it."
        out.append(
            f"<h3>Soft ring printed in place: {text(ring['ring'])} in {text(ring['body'])}</h3>"
            f"<p>One print of {ring['layers']} layers, the first {ring['first_layer_mm']:g} mm, all others "
            f"{ring['layer_mm']:g} mm; layers count from 1 at the bed.{lean}</p>"
            + table(("from layer", "height of its bottom", "print with"), rows)
        )
    return "".join(out)


def _touch(part: str, entry: Mapping[str, Any]) -> str:
    place = ", ".join(f"{c:.0f}" for c in entry["point_mm"])
    return f"<b>{text(part)}</b>, layer {entry['layer']}, at ({place}) mm: {text(entry['what'])}"


def make_block(report: Report) -> str:
    """Parts list, assembly and cleaning."""
    if report["kind"] == "tube":
        return block(
            "Making it",
            "<p>A plain tube for trials: print it, break the edges, hold it to the face and look for light "
            "at the "
            "rim. It is no mask.</p>",
            name="making",
        )
    return block(
        "Making it",
        "<h3>Parts list</h3>",
        table(("quantity", "what", "which"), parts_list(report)),
        "<h3>Order of assembly</h3>",
        listing([text(step) for step in assembly(report)], "ol"),
        "<h3>Cleaning and care</h3>",
        listing([text(step) for step in cleaning(report)]),
        name="making",
    )


def parts_list(report: Report) -> list[tuple[str, str, str]]:
    """What is printed and what is bought: quantity, what, which."""
    rows = [
        (
            "1",
            f"printed: {text(name)}{_in_place(name)}",
            text(material_name(report["masses"]["parts"][name]["material"])),
        )
        for name in report["parts"]
    ]
    for index, port in enumerate(report["hardware"]["ports"]):
        rows += _seal(report, port, f"hardware.ports.{index}")
    medium = report["filter"]
    if medium is not None:
        size = f"{number(report, 'filter.length_mm', '')} × {number(report, 'filter.width_mm')}"
        rows.append(("1", f"medium: {text(medium['name'])}", f"{text(medium['shape'])}, {size}"))
        if "glue_volume_mm3" in report["hardware"]["holder"]:
            glue = number(report, "hardware.holder.glue_volume_mm3")
            rows.append(("", "glue for the edge of the medium: solvent-free, cured, aired", glue))
    straps = report["recipe"]["straps"]
    if straps["lug"]["count"]:
        pairs = straps["lug"]["count"] // 2
        width = f"{straps['lug']['strap_width_mm']:g} mm wide, elastic"
        pull = f"about {straps['tension_n']:g} N at each end"
        rows.append((str(pairs), "strap with buckle or sliding knot", text(f"{width}, {pull}")))
    return rows


def _in_place(part: str) -> str:
    return ", in its place in the body" if part.startswith("soft-ring") else ""


def _seal(report: Report, port: Mapping[str, Any], path: str) -> list[tuple[str, str, str]]:
    """What seals one port."""
    if "ring" in port and "ring_inside_mm" in port:
        size = f"{number(report, f'{path}.ring_inside_mm', '')} × {number(report, f'{path}.ring_section_mm')}"
        name = f"AS568 / ISO 3601-1 size {text(port['ring'])} ({text(port['ring_size_confidence'])})"
        return [("1", "O-ring of the port", f"{name}, {size}, 40 to 50 Shore A; measure the ring in hand")]
    if "gasket_thickness_mm" in port:
        return [("1", "flat gasket, 65 Shore A", number(report, f"{path}.gasket_thickness_mm") + " thick")]
    if "flap_diameter_mm" in port:
        return [("1", "flat silicone flap", number(report, f"{path}.flap_diameter_mm") + " across")]
    return []


def assembly(report: Report) -> list[str]:
    """Steps in order, for the parts that are there."""
    ports = report["hardware"]["ports"]
    steps = [
        "Take the parts off the bed, pare the flare of the first layer, break every edge that can touch "
        "skin.",
        "Rub the contact band smooth along its length, finest paper last; it must feel even to the lip.",
        "Wash off dust. Coat if you coat: thin, fully cured, washed, then aired for days. Nothing uncured "
        "inside.",
        "Leak-test the bare body: close the port, press the band on a wet flat or your face, and blow "
        "gently; "
        "brush soapy water on the outside and look for bubbles.",
    ]
    if any("ring_inside_mm" in port for port in ports):
        steps.append("Lay the O-ring dry into its groove; it must lie flat and stand proud all round.")
    if report["filter"] is not None:
        steps.append(
            "Cut the medium to size without touching its middle. Fill the glue groove, lay the medium on, "
            "press the "
            "edge until the glue shows all round. Let it cure and air."
        )
        if report["filter"]["sheds_fibres"]:
            steps.append(
                "This medium sheds fibres: seal its cut edge completely, cut it away from your face, and "
                "never "
                "wear the holder before the edge is sealed."
            )
        steps.append(
            "Screw the holder on by hand until it stops. Light must not show between holder and port."
        )
    if "retainer" in report["parts"]:
        steps.append("Lay the pre-filter on and press the frame home.")
    if report["recipe"]["straps"]["lug"]["count"]:
        steps.append(
            "Thread the straps: upper pair over the crown of the head, lower pair round the neck. Even "
            "left and "
            "right."
        )
    steps += [
        "Put it on: chin first, then the nose; tighten lower straps, then upper ones, no more than it needs.",
        "Do the seal check every time it is put on. If air passes at the edge, do not use it.",
        "Have the fit tested by a competent person before first use, and enter the result in the form below.",
    ]
    return steps


def cleaning(report: Report) -> list[str]:
    """How to clean and keep it."""
    steps = [
        "Take off the holder. Wipe the body with lukewarm water and mild soap, rinse, dry in the air out "
        "of the sun.",
        "No autoclave, hot dishwasher, hot car or solvent: PLA softens at 55 to 60, PETG near 80, ABS near "
        "105 "
        "degrees C (from memory).",
        "Alcohol only after a trial on scrap of the same print.",
        "Look at band, thread, ring and straps before each use: cracks, flats, hard or torn rubber mean "
        "replace.",
        "Redness of the skin that stays after half an hour, itching or blisters: stop using it.",
        "One mask, one wearer. Print a new one when the face, the teeth or the weight changes.",
    ]
    medium = report["filter"]
    if medium is not None:
        steps.insert(1, f"Never wash or blow out the medium. {medium['efficiency_note']}")
        steps.insert(
            2, "Replace the medium when breathing gets harder, when it is wet, torn or dirty inside."
        )
    return steps
