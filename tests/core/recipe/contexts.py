"""In which recipe each leaf counts, and which output must change: register a new leaf here.

A leaf is looked up by its dotted key, then by ever shorter beginnings of it ("holder.glue_depth_mm",
"holder"); the first entry found holds. A leaf of a section that is here needs an entry of its own only
where its section's does not do:

- ``probe``: the function of `probes` whose output must change (add one there for a new stage);
- ``base``: recipe values, by dotted key, that make it count (a ring only counts where there is a ring);
- ``value``: another valid value, where a third of the way to the end of its range does not do;
- ``bounds``: its effect is the value itself, where it bounds a result;
- ``refused``: code of the refusal that is its effect, where no output comes about.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from sealwright.recipe import Recipe

from . import probes


@dataclass(frozen=True)
class Context:
    """Where a leaf counts; see the module."""

    probe: Callable[[Recipe], Any]
    base: Mapping[str, Any] = field(default_factory=dict)
    value: Any = None
    refused: str = ""
    bounds: bool = False


_PORT = "ports[].connection"
_OWN = "fittings[].connection"
_OWN_PORT = {"kind": "trim", "fittings[].kind": "port"}
_FITTING = {
    **_OWN_PORT,
    "trim.band": False,
    "fittings[].x_mm": 42.0,
    "fittings[].y_mm": -25.0,
    f"{_OWN}.kind": "plain",
    f"{_OWN}.bore_mm": 8.0,
    f"{_OWN}.wall_mm": 1.2,
}
_FEW = {"prediction.fit.samples": 8}
_GENTLE = {**_FEW, "straps.tension_n": 0.5}
_SOFT_RING = {f"{_PORT}.seal": "soft_ring"}
_PAD = {"holder.shape": "pad", "holder.retainer": "none"}
_LINER = {"cushion.kind": "liner", "cushion.thickness_mm": 3.0, "straps.tension_n": 4.0}
_CUSHION = {"cushion.kind": "foam"}
_HOLE = {
    "kind": "shell",
    "shell.holes[].at": "mouth",
    "shell.holes[].width_mm": 12.0,
    "shell.holes[].height_mm": 8.0,
}
_SLOT = {
    "kind": "shell",
    "shell.slots[].length_mm": 8.0,
    "shell.slots[].width_mm": 2.0,
    "shell.slots[].bridge_mm": 2.0,
}
_LINE = (  # round the mouth of the invented wearer, 1 mm wider than its proposal
    (0.0, -2.1, 40.6),
    (13.5, 3.5, 22.3),
    (34.1, 12.4, 13.7),
    (41.8, 22.9, -18.1),
    (29.3, 21.8, -55.1),
    (0.0, 26.3, -70.0),
    (-29.3, 21.8, -55.1),
    (-41.8, 22.9, -18.1),
    (-34.1, 12.4, 13.7),
    (-13.5, 3.5, 22.3),
)


def _kind(name: str, **values: Any) -> dict[str, Any]:
    return {f"{_PORT}.kind": name} | {f"{_PORT}.{key}": value for key, value in values.items()}


CONTEXTS: dict[str, Context] = {
    "title": Context(probes.printed),
    "kind": Context(probes.tube, {"kind": "tube"}, "body"),
    "scan": Context(probes.scan),
    "scan.fill_mm": Context(probes.scan, value=30.0),
    "scan.unit": Context(probes.scan, value="m", refused="implausible-size"),
    "seal_line": Context(probes.shape),
    "seal_line.chin": Context(probes.shape, value="front"),
    "seal_line.chin_front_mm": Context(probes.shape, {"seal_line.chin": "front"}),
    "seal_line.under_chin_mm": Context(probes.shape, {"seal_line.chin": "under"}),
    "seal_line.off_creases": Context(probes.line, {"band.width_mm": 30.0, "band.inner_share": 0.8}),
    "seal_line.control_points": Context(probes.shape, value=_LINE),
    "band": Context(probes.shape),
    "cushion": Context(probes.shape, _CUSHION),
    "cushion.kind": Context(probes.shape, value="none"),
    "cushion.material": Context(probes.predicted, _CUSHION | _FEW, "foam_grade_1"),
    "cushion.seating_percent": Context(probes.shape, _CUSHION, 25.0),
    "cushion.modulus_kpa": Context(probes.predicted, _CUSHION | _FEW),
    "cushion.poisson": Context(probes.predicted, _CUSHION | _FEW, 0.4),
    "contact_surface": Context(probes.surface, _LINER | {"contact_surface.shaped": True}),
    "contact_surface.most_mm": Context(probes.surface, _LINER | {"contact_surface.shaped": True}, 0.3),
    "contact_surface.shaped": Context(probes.surface, _LINER),
    "chamber": Context(probes.shape),
    "ports": Context(probes.shape),
    "ports[].further_out": Context(probes.shape, {"ports[].front_mm": 24.0}),
    "ports[].carries": Context(probes.carried, value="cap"),
    "ports[].disc_mm": Context(probes.carried, value=90.0),
    _PORT: Context(probes.port),
    f"{_PORT}.bore_mm": Context(probes.port, value=32.0),
    f"{_PORT}.ring": Context(probes.port, value="-029"),
    f"{_PORT}.soft_material": Context(probes.ring_print, _SOFT_RING, "tpe60a"),
    f"{_PORT}.soft_proud_mm": Context(probes.port, _SOFT_RING),
    f"{_PORT}.cone_size": Context(probes.port, _kind("cone", bore_mm=10.0)),
    f"{_PORT}.cone_gender": Context(probes.port, _kind("cone", bore_mm=16.0)),
    f"{_PORT}.length_mm": Context(probes.port, _kind("plain")),
    f"{_PORT}.wall_mm": Context(probes.port, _kind("plain")),
    f"{_PORT}.valve": Context(probes.port, _kind("valve")),
    f"{_PORT}.valve.flap_mm": Context(probes.port, _kind("valve"), 24.0),
    "exhalation": Context(probes.valve, {"exhalation.place": "chin"}),
    "exhalation.place": Context(probes.valve, {"exhalation.place": "none"}, "left"),
    "exhalation.valve.flap_mm": Context(probes.valve, {"exhalation.place": "chin"}, 24.0),
    "holder": Context(probes.holder),
    "holder.medium": Context(probes.holder, value="glass_h13"),
    "holder.edge_seal": Context(probes.holder, value="glued"),
    "holder.opening_mm": Context(probes.holder, value=8.0),
    "holder.glue_width_mm": Context(probes.holder, {"holder.land_mm": 6.0}),
    "holder.wall_mm": Context(probes.holder, {"holder.land_mm": 6.0}),
    "holder.pad_length_mm": Context(probes.holder, _PAD),
    "holder.pad_width_mm": Context(probes.holder, _PAD),
    "holder.pad_corner_mm": Context(probes.holder, _PAD),
    "straps": Context(probes.lug),
    "straps.lower_share": Context(probes.lug, value=0.55),
    "straps.lug.count": Context(probes.lug, value=2),
    "straps.tension_n": Context(probes.predicted, _FEW),
    "tube": Context(probes.tube, {"kind": "tube"}),
    "trim": Context(probes.own_trim, {"kind": "trim"}),
    "shell": Context(probes.own_shell, {"kind": "shell"}),
    "shell.fold_mm": Context(probes.own_shell, {"kind": "shell"}, 0.1, refused="folds"),
    "shell.line": Context(probes.own_shell, {"kind": "shell"}, "straight"),
    "shell.holes[]": Context(probes.own_shell, _HOLE),
    "shell.holes[].at": Context(probes.own_shell, _HOLE, "eyes", refused="off-the-scan"),
    "shell.holes[].width_mm": Context(probes.own_shell, _HOLE, 13.0),
    "shell.holes[].height_mm": Context(probes.own_shell, _HOLE, 9.0),
    "shell.holes[].up_mm": Context(probes.own_shell, _HOLE, 1.0),
    "shell.slots[]": Context(probes.own_shell, _SLOT),
    "shell.slots[].length_mm": Context(probes.own_shell, _SLOT, 9.0),
    "shell.slots[].width_mm": Context(probes.own_shell, _SLOT, 2.5),
    "shell.slots[].bridge_mm": Context(probes.own_shell, _SLOT, 2.5),
    "fittings[]": Context(probes.own_fitted, _FITTING),
    "fittings[].kind": Context(probes.own_fitted, _FITTING, "lug"),
    "fittings[].x_mm": Context(probes.own_fitted, _FITTING, 43.0),
    "fittings[].y_mm": Context(probes.own_fitted, _FITTING, -80.0, refused="does-not-fit"),
    "fittings[].z_mm": Context(probes.own_fitted, _FITTING, 1.0),
    "fittings[].tilt_deg": Context(probes.own_fitted, _FITTING, 5.0),
    "fittings[].turn_deg": Context(probes.own_fitted, _FITTING, 5.0),
    "fittings[].roll_deg": Context(probes.own_fitted, _FITTING, 1.0),
    "fittings[].carries": Context(probes.carried, _OWN_PORT, "cap"),
    "fittings[].disc_mm": Context(probes.carried, _OWN_PORT, 90.0),
    "fittings[].lug": Context(probes.own_lug, _OWN_PORT),
    "allowance": Context(probes.printed),
    "allowance.clearance_mm": Context(probes.holder),
    "allowance.coating_mm": Context(probes.port, value=0.1),
    "allowance.coating_room": Context(probes.port, {"allowance.coating_mm": 0.1}),
    "printer": Context(probes.printed),
    "printer.way_up": Context(probes.printed, value="band_down"),
    "printer.first_layer_mm": Context(probes.ring_print, _SOFT_RING, 0.3),
    "printer.bed_x_mm": Context(probes.printed, value=50.0),
    "printer.bed_y_mm": Context(probes.printed, value=50.0),
    "printer.bed_z_mm": Context(probes.printed, value=50.0),
    "printer.bridge_mm": Context(probes.printed, value=15.0),
    "printer.bridge_limit_mm": Context(probes.printed, value=10.0),
    "printer.ledge_mm": Context(probes.printed, {"printer.overhang_limit_deg": 45.0}, 0.3),
    "printer.flow_limit_mm3_s": Context(probes.printed, value=2.0),
    "printer.flare_mm": Context(probes.printed, value=0.0),
    "printer.candidates": Context(probes.oriented, value=20),
    "prediction": Context(probes.predicted, _FEW),
    "prediction.straps.upper_share": Context(probes.predicted, _FEW, 0.4),
    "prediction.sizing": Context(probes.sizing),
    "prediction.fit.samples": Context(probes.predicted, _FEW, 9),
    "prediction.fit.staircase": Context(probes.predicted, _FEW | {"cushion.kind": "none"}),
    "prediction.fit.seed": Context(probes.predicted, _FEW, 2),
    "prediction.fit.scan_noise_mm": Context(
        probes.predicted, _FEW | {"prediction.fit.scan_error_from_scan": False}
    ),
    "prediction.pass_level": Context(probes.predicted, _FEW, 10000.0),
    "prediction.contact.foundation.skin.poisson": Context(probes.predicted, _FEW, 0.3),
    "prediction.contact.friction": Context(probes.predicted, _FEW, 0.01),
    "prediction.contact.turn_limit_deg": Context(probes.predicted, _FEW, 1.0),
    "prediction.contact.shift_limit_mm": Context(probes.predicted, _FEW, 1.0),
    "prediction.comfort.longest_h": Context(probes.predicted, _GENTLE, 0.5, bounds=True),
    "prediction.tension.most_total_n": Context(probes.predicted, _FEW, 1.0),
    "prediction.tension.precision": Context(probes.predicted, _FEW, 0.1),
}
"""Key or beginning of keys -> where those leaves count."""

CONTEXTS |= {
    key.replace(_PORT, _OWN): replace(
        context, base={**_OWN_PORT, **{name.replace(_PORT, _OWN): v for name, v in context.base.items()}}
    )
    for key, context in CONTEXTS.items()
    if key.startswith(_PORT)
}


def context_of(key: str) -> Context:
    """The context of a leaf.

    Raises
    ------
    LookupError : the leaf's section is not registered.
    """
    parts = key.split(".")
    for count in range(len(parts), 0, -1):
        start = ".".join(parts[:count])
        for name in (start, start.removesuffix("[]")):
            if name in CONTEXTS:
                return CONTEXTS[name]
    raise LookupError(f"{key} is new: register in contexts.py where it counts and which output must change")
