"""Which scans a refit is of, with label, unit, landmarks, known length and second pose for each."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from ..errors import BadRecipe, Where
from ..export.identity import checked_label
from ..files import contents
from ..scan.reference.scale import MM_PER_UNIT
from .scan_options import points_of
from .source import Source

KEYS = (
    "scan", "wearer", "unit", "landmarks", "known_length_mm", "between_first", "between_second",
    "second_pose", "reference", "reference_patch", "adult",
)  # fmt: skip
FIX = f"Give CSV with a head line, or a JSON list of objects; columns: {', '.join(KEYS)}."


def sources_of(scans: Sequence[Path], listed: Path | None, labels_from_names: bool = False) -> list[Source]:
    """The sources of a refit: those of a list, then single scans.

    Parameters
    ----------
    scans : scan files without anything said of them.
    listed : CSV or JSON, see `KEYS`; paths in it are seen from its own folder.
    labels_from_names : take the name of a file without its ending as the label where none is given.

    Raises
    ------
    BadRecipe : no scan at all, an unreadable list, an unknown column or a value that cannot be used.
    """
    found = read_list(listed) if listed is not None else []
    found += [Source(scan) for scan in scans]
    if labels_from_names:
        found = [_named(source) for source in found]
    if not found:
        raise BadRecipe(
            "There are 0 scans.", Where("refit", key="scans"), "Give at least one scan, or --list FILE."
        )
    return found


def read_list(path: Path) -> list[Source]:
    """The sources in a list.

    Raises
    ------
    BadRecipe : see `sources_of`.
    """
    data = contents(path, "list of scans", refusal=BadRecipe)
    try:
        text = data.decode("utf-8-sig")
        rows: object = json.loads(text) if text.lstrip()[:1] in ("[", "{") else _table(text)
    except (ValueError, RecursionError, csv.Error) as error:
        raise BadRecipe(
            f"The list cannot be read: {error}.", Where("list of scans", key=path.name), FIX
        ) from error
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        raise BadRecipe("The list holds no rows.", Where("list of scans", key=path.name), FIX)
    return [_source(row, path.parent, number) for number, row in enumerate(rows, start=1)]


def _table(text: str) -> list[dict[str, str]]:
    first = text.partition("\n")[0]
    marks = ";" if first.count(";") > first.count(",") else ","  # spreadsheets of many countries
    return list(csv.DictReader(io.StringIO(text), delimiter=marks, strict=True))


def _source(row: Mapping[object, object], folder: Path, number: int) -> Source:
    """One row; empty cells say nothing."""
    unknown = [str(key) for key in row if key not in KEYS]
    if unknown:
        raise _bad(number, f"has the unknown column {unknown[0][:40]!r}")
    told = {str(key): _cell(value) for key, value in row.items() if value not in (None, "", [])}
    if not told.get("scan"):
        raise _bad(number, "names no scan")
    if any("\0" in value for value in told.values()):
        raise _bad(number, "holds a zero byte")
    if told.get("unit", "mm") not in MM_PER_UNIT:
        raise _bad(number, f"has the unknown unit {told['unit'][:20]!r}")
    first, second = told.get("between_first", ""), told.get("between_second", "")
    if len({bool(first), bool(second), "known_length_mm" in told}) > 1:
        raise _bad(number, "needs known_length_mm, between_first and between_second together")
    if bool(told.get("reference")) != bool(told.get("reference_patch")) or (first and told.get("reference")):
        raise _bad(number, "needs a reference and its patch together, and no known length beside them")
    return Source(
        folder / told["scan"],
        told.get("unit", ""),
        _length(told["known_length_mm"], number) if first else 0.0,
        points_of(first.replace(" ", ","), second.replace(" ", ",")) if first else None,
        folder / told["landmarks"] if "landmarks" in told else None,
        folder / told["second_pose"] if "second_pose" in told else None,
        told.get("reference", ""),
        told.get("reference_patch", "").replace(" ", ","),
        checked_label(told.get("wearer", "")),
        adult=_said(told.get("adult", "no"), number),
    )


def _cell(value: object) -> str:
    """A cell as text; a point may be a list of numbers."""
    return ",".join(str(v) for v in value) if isinstance(value, list) else str(value).strip()


def _said(text: str, number: int) -> bool:
    word = text.lower()
    if word not in ("yes", "no", "true", "false"):
        raise _bad(number, f"has {text[:20]!r} for adult, which is yes or no")
    return word in ("yes", "true")


def _length(text: str, number: int) -> float:
    try:
        length = float(text)
    except ValueError:
        length = math.nan
    if not (math.isfinite(length) and length > 0.0):
        raise _bad(number, f"has the known length {text[:20]!r}, which is no length in mm")
    return length


def _bad(number: int, why: str) -> BadRecipe:
    return BadRecipe(f"Row {number} {why}.", Where("list of scans", key=f"row {number}"), FIX)


def _named(source: Source) -> Source:
    return source if source.wearer else replace(source, wearer=checked_label(source.path.stem))
