"""Recipes of format 1 as recipes of format 2: a table of what moved, and a pure function that applies it.

Format 1 kept some facts twice (coating, shrinkage, overhang limit, filter medium, strap tension) and said
"automatic" in four ways (-1, 0, "auto", an empty list). Where two copies of a fact differed, the one that
shaped the parts is kept, and a warning names both.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from ..errors import Remark, Where

Data = dict[str, object]
_MISSING = object()


@dataclass(frozen=True)
class Renamed:
    """A key whose value is written otherwise, or stands elsewhere, and means the same.

    Attributes
    ----------
    old, new : dotted keys; ``ports[]`` stands for every port.
    value : the old value as the new one; what it does not know it gives back unchanged.
    """

    old: str
    new: str
    value: Callable[[object], object]


@dataclass(frozen=True)
class Merged:
    """Keys that told one fact, as one.

    Attributes
    ----------
    old : dotted keys that are gone.
    new : dotted keys that tell it now; empty when nothing needs it.
    values : old values, by key and only those in the file, to new values by key, and a warning, "" for none.
    """

    old: tuple[str, ...]
    new: tuple[str, ...]
    values: Callable[[Mapping[str, object]], tuple[Data, str]]


@dataclass(frozen=True)
class Dropped:
    """A key that changed nothing that the maker gets."""

    old: str


def _where(*automatic: object) -> Callable[[object], object]:
    """Null where the old value was one of these words."""
    return lambda value: None if any(value is word or value == word for word in automatic) else value


def _negative(value: object) -> object:
    """Null for the negative numbers that meant automatic."""
    return None if isinstance(value, int | float) and not isinstance(value, bool) and value < 0 else value


def _further(value: object) -> object:
    return {"auto": True, "fixed": False}.get(value, value) if isinstance(value, str) else value


def _shrinkage(old: Mapping[str, object]) -> tuple[Data, str]:
    """Three axes from one number for all, or from the printer's three."""
    axes = {axis: f"allowance.shrink_{axis}_percent" for axis in "xyz"}
    if old.get("printer.allowances.shrink_from_material", True) is False:
        each = {new: old.get(f"printer.allowances.shrink_{axis}_percent", 0.0) for axis, new in axes.items()}
        number = _negative(old.get("allowance.shrinkage_percent"))
        if number is None:
            return each, ""
        return each, f"allowance.shrinkage_percent ({number}) is dropped: the printer's own three were used."
    number = _negative(old.get("allowance.shrinkage_percent"))
    return ({} if number is None else dict.fromkeys(axes.values(), number)), ""


def _coating(old: Mapping[str, object]) -> tuple[Data, str]:
    """One thickness, and whether hardware or print copy makes room for it."""
    room, thinner = old.get("allowance.coating_mm", 0.0), old.get("printer.allowances.coating_mm", 0.0)
    if not thinner:
        return {"allowance.coating_mm": room}, ""
    if not room:
        return {"allowance.coating_mm": thinner, "allowance.coating_room": "everywhere"}, ""
    return {"allowance.coating_mm": room}, (
        f"printer.allowances.coating_mm ({thinner}) is dropped: allowance.coating_mm ({room}) makes room on "
        "the mating surfaces, and a print copy made thinner besides would count the coating twice."
    )


_USUAL_LIMIT_DEG = 45.0  # of both keys of format 1
_LIMITS_DEG = (30.0, 70.0)  # that a body can be designed for


def _overhang(old: Mapping[str, object]) -> tuple[Data, str]:
    """The limit the body was designed for; the printer's own where only that was changed."""
    said = old.get("chamber.overhang_deg", _USUAL_LIMIT_DEG)
    design, printer = _angle(said), _angle(old.get("printer.overhang_limit_deg", _USUAL_LIMIT_DEG))
    if design is None or printer is None:
        return {"printer.overhang_limit_deg": said}, ""
    changed = [value for value in (design, printer) if value != _USUAL_LIMIT_DEG]
    limit = min(changed, default=_USUAL_LIMIT_DEG)
    kept = min(max(limit, _LIMITS_DEG[0]), _LIMITS_DEG[1]) if limit == printer != design else limit
    if design == printer == kept:
        return {"printer.overhang_limit_deg": kept}, ""
    return {"printer.overhang_limit_deg": kept}, (
        f"The body was designed for an overhang of {design:g} degrees and its print judged by {printer:g}; "
        f"both now go by printer.overhang_limit_deg, which is {kept:g}."
    )


def _angle(value: object) -> float | None:
    """The value, where it can be an angle; what cannot is left for the reader to refuse."""
    number = isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e9
    return value if number and isinstance(value, int | float) else None


def _medium(old: Mapping[str, object]) -> tuple[Data, str]:
    """The holder's medium; another one for the prediction alone is no more."""
    other = old.get("prediction.filter.medium", "")
    if other in ("", old.get("holder.medium", "meltblown")):
        return {}, ""
    return {}, f"prediction.filter.medium ({other}) is dropped: predictions take holder.medium."


def _tension(old: Mapping[str, object]) -> tuple[Data, str]:
    """The tension that predictions reckoned with."""
    own, usual = old.get("prediction.straps.tension_n", 0), old.get("straps.tension_n", 4.0)
    if own in (0, usual) and not isinstance(own, bool):
        return {}, ""
    return {"straps.tension_n": own}, (
        f"straps.tension_n is {own}, as prediction.straps.tension_n was, instead of {usual}: both were the "
        "pull of one strap end."
    )


_GASKET = "prediction.contact.foundation.gasket"
_SOFT = {"thickness_mm": 0.0, "modulus_kpa": 200.0, "poisson": 0.3}  # the gasket of format 1 by default
_THINNEST_MM = 0.5  # of a cushion


def _gasket(old: Mapping[str, object]) -> tuple[Data, str]:
    """The layer that predictions assumed, as a cushion; the body had to leave it room by its stand-off."""
    told = {name: old.get(f"{_GASKET}.{name}", usual) for name, usual in _SOFT.items()}
    thick = told["thickness_mm"]
    if thick == 0 and not isinstance(thick, bool):
        return {}, ""
    new = {f"cushion.{name}": value for name, value in told.items()}
    if not isinstance(thick, int | float) or isinstance(thick, bool):
        return new, ""  # for the reader to refuse
    kept = max(thick, _THINNEST_MM) if thick > 0 else thick
    new |= {"cushion.kind": "foam", "cushion.thickness_mm": kept, "cushion.seating_percent": 0.0}
    room = old.get("band.stand_off_mm", 0.0)
    if not isinstance(room, int | float) or isinstance(room, bool) or room <= 0:
        return new, (
            f"The prediction assumed a soft layer of {thick:g} mm for which the body left no room; it is "
            "the cushion now, and the body stands off by its thickness."
        )
    left = max(room - kept, 0.0)
    return new | {"band.stand_off_mm": left}, (
        f"The soft layer of {thick:g} mm is the cushion now and brings its own room: band.stand_off_mm is "
        f"{left:g} instead of {room:g}."
    )


_PRINTER = tuple(
    f"printer.allowances.shrink_{name}" for name in ("from_material", "x_percent", "y_percent", "z_percent")
)
TABLE: tuple[Renamed | Merged | Dropped, ...] = (
    Renamed("scan.unit", "scan.unit", _where("auto")),
    Renamed("scan.smoothing_mm", "scan.smoothing_mm", _negative),
    Renamed("seal_line.chin", "seal_line.chin", _where("auto")),
    Renamed("seal_line.control_points", "seal_line.control_points", _where([])),
    Renamed("ports[].front", "ports[].further_out", _further),
    Renamed("ports[].connection.ring", "ports[].connection.ring", _where("auto")),
    Merged(
        ("allowance.shrinkage_percent", *_PRINTER),
        tuple(f"allowance.shrink_{axis}_percent" for axis in "xyz"),
        _shrinkage,
    ),
    Merged(
        ("allowance.coating_mm", "printer.allowances.coating_mm"),
        ("allowance.coating_mm", "allowance.coating_room"),
        _coating,
    ),
    Merged(("printer.allowances",), (), lambda _: ({}, "")),
    Merged(
        ("chamber.overhang_deg", "printer.overhang_limit_deg"), ("printer.overhang_limit_deg",), _overhang
    ),
    Dropped("ports[].connection.valve.flap_thickness_mm"),
    Merged(("prediction.filter.medium",), ("holder.medium",), _medium),
    Merged(
        tuple(f"{_GASKET}.{name}" for name in _SOFT),
        ("cushion", "band.stand_off_mm"),
        _gasket,
    ),
    Merged((_GASKET,), (), lambda _: ({}, "")),
    Merged(("prediction.straps.tension_n",), ("straps.tension_n",), _tension),
)
"""Everything that differs between the formats; keys that are not named here are the same in both."""


def migrated(data: Mapping[str, object]) -> tuple[Data, tuple[Remark, ...]]:
    """A recipe of format 1 as one of format 2, and what to tell of it.

    Values of the wrong type are carried along for the reader to refuse.

    Parameters
    ----------
    data : the recipe as plain data, without its format line; it is not changed.

    Returns
    -------
    The recipe in format 2, a note that names every key that was written otherwise, and a warning for each
    fact of which the file told two.
    """
    new: Data = copy.deepcopy(dict(data))
    moved: list[str] = []
    warnings: list[str] = []
    for row in TABLE:
        if isinstance(row, Renamed):
            moved += _rename(new, row)
        elif isinstance(row, Dropped):
            moved += _drop(new, row)
        else:
            merged, warning = _merge(new, row)
            moved += merged
            warnings += [warning] if warning else []
    text = "The recipe is of format 1 and was read as format 2; saved again it is of format 2."
    if moved:
        text += " Written otherwise now: " + "; ".join(dict.fromkeys(moved)) + "."
    remarks = [Remark("note", text, Where("recipe", key="format"))]
    remarks += [Remark("warning", warning, Where("recipe", key="format")) for warning in warnings]
    return new, tuple(remarks)


def _rename(data: Data, row: Renamed) -> list[str]:
    told = []
    for old in _places(data, row.old):
        new = _sibling(old, row)
        value = _taken(data, old)
        if value is _MISSING:
            continue
        written = row.value(value)
        _put(data, new, written)
        if old != new:
            told.append(f"{row.old} is {row.new}")
        elif written is not value:
            told.append(f"{row.old} is null for automatic")
    return told


def _sibling(key: str, row: Renamed) -> str:
    """The new key for an old one with a port's number in it."""
    number = key.split(".")[1] if "[]" in row.old else ""
    return row.new.replace("[]", f".{number}")


def _drop(data: Data, row: Dropped) -> list[str]:
    gone = [_taken(data, key) is not _MISSING for key in _places(data, row.old)]
    return [f"{row.old} is gone, as it changed nothing"] if any(gone) else []


def _merge(data: Data, row: Merged) -> tuple[list[str], str]:
    found = {key: _taken(data, key) for key in row.old}
    found = {key: value for key, value in found.items() if value is not _MISSING}
    if not found:
        return [], ""
    beside = {key: value for key in row.new if (value := _seen(data, key)) is not _MISSING}
    values, warning = row.values(beside | found)
    for key, value in values.items():
        _put(data, key, value)
    now = " and ".join(row.new)
    gone = [key for key in found if key not in row.new and not key.endswith((".allowances", ".gasket"))]
    return [f"{key} is {now}" if now else f"{key} is gone" for key in gone], warning


def _places(data: Data, key: str) -> Iterator[str]:
    """A key with each port's number in it."""
    if "[]" not in key:
        yield key
        return
    ports = data.get("ports")
    for number in range(len(ports) if isinstance(ports, list) else 0):
        yield key.replace("[]", f".{number}")


def _parent(data: object, key: str, make: bool = False) -> tuple[Data | None, str]:
    """The object that holds a dotted key, and the key's last part; None when there is no such object."""
    *path, last = key.split(".")
    for name in path:
        if isinstance(data, list) and name.isdecimal():
            data = data[int(name)]
        elif isinstance(data, dict):
            data = data.setdefault(name, {}) if make else data.get(name)
        else:
            return None, last
    return (data if isinstance(data, dict) else None), last


def _seen(data: Data, key: str) -> object:
    held, last = _parent(data, key)
    return _MISSING if held is None else held.get(last, _MISSING)


def _taken(data: Data, key: str) -> object:
    held, last = _parent(data, key)
    return _MISSING if held is None else held.pop(last, _MISSING)


def _put(data: Data, key: str, value: object) -> None:
    held, last = _parent(data, key, make=True)
    if held is not None:
        held[last] = value
