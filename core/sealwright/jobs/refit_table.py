"""The table of a refit: one line for each wearer, as JSON, CSV and plain text."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Sequence

from ..cautions import CAUTIONS
from ..errors import BadRecipe, Where
from ..export.identity import UNNAMED
from .refit_record import Plain, Record

FORMAT = "sealwright-refit-table-2"
_WHOSE = ("wearer", "scan_name", "scan_sha256", "recipe_sha256", "design_id", "version", "date")
_FIRST = ("folder", *_WHOSE, "verdict", "reasons")


def in_order(records: Iterable[Record]) -> list[Record]:
    """Records by label, name of the scan and folder: the same order whoever wrote them and when."""
    return sorted(records, key=lambda r: (str(r["identity"]["wearer"]).casefold(), _scan(r), r["folder"]))


def _scan(record: Record) -> str:
    return str(record["identity"]["scan_name"])


def refuse_two_labels(records: Iterable[Record]) -> None:
    """Refuse one scan under two labels.

    Raises
    ------
    BadRecipe : both labels are named.
    """
    labels: dict[str, str] = {}
    for record in records:
        told = record["identity"]
        scan, label = told["scan_sha256"], told["wearer"]
        if scan and label and labels.setdefault(scan, label) != label:
            raise BadRecipe(
                f"One and the same scan ({told['scan_name']}, {scan[:12]}) stands under two wearers: "
                f"{labels[scan]} and {label}.",
                Where("refit", key="wearer"),
                "Find out whose it is; give it one label, or another folder for the results.",
            )


def refuse_two_ways(records: Iterable[Record]) -> None:
    """Refuse a scan that one run is to read in two ways.

    Raises
    ------
    BadRecipe : the scan is named.
    """
    ways: dict[str, str] = {}
    for record in records:
        told = record["identity"]
        if ways.setdefault(record["key"], told["options_sha256"]) != told["options_sha256"]:
            raise BadRecipe(
                f"The scan {told['scan_name']} is given twice with different options.",
                Where("refit", key="scans"),
                "Give each scan once.",
            )


def table_json(records: Sequence[Record]) -> bytes:
    """All records in order, with a count of verdicts and the cautions."""
    counts: dict[str, int] = {}
    for record in records:
        counts[record["verdict"]] = counts.get(record["verdict"], 0) + 1
    rows = [
        {**_whose(r), **{k: r.get(k) for k in ("verdict", "reasons", "state", "values", "error")}}
        for r in records
    ]
    data = {
        "format": FORMAT,
        "cautions": [caution.text for caution in CAUTIONS],
        "verdicts": dict(sorted(counts.items())),
        "wearers": rows,
    }
    return (json.dumps(data, indent=1, ensure_ascii=False) + "\n").encode("utf-8")


def _whose(record: Record) -> dict[str, str]:
    return {"folder": record["folder"], **{key: record["identity"].get(key, "") for key in _WHOSE}}


def table_csv(records: Sequence[Record]) -> bytes:
    """One line for each wearer; further columns are the values any of them has, in order of appearance."""
    names: dict[str, None] = {}
    for record in records:
        names.update(dict.fromkeys(record["values"]))
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")  # RFC 4180
    writer.writerow([*_FIRST, *names])
    for record in records:
        fixed = [*_whose(record).values(), record["verdict"], " | ".join(record["reasons"])]
        writer.writerow([_cell(v) for v in (*fixed, *(record["values"].get(name, "") for name in names))])
    return stream.getvalue().encode("utf-8")


def _cell(value: Plain) -> Plain:
    """A text that a spreadsheet would take for a formula is marked as text."""
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value


def table_text(records: Sequence[Record], reasons: int = 2) -> str:
    """For reading: wearer, scan and verdict, and the first reasons below; totals at the end."""
    width = max((len(name_of(record)) for record in records), default=0)
    lines = []
    counts: dict[str, int] = {}
    for record in records:
        counts[record["verdict"]] = counts.get(record["verdict"], 0) + 1
        lines.append(f"{name_of(record):<{width}}  {record['verdict'].upper():<8} {record['folder']}")
        lines += [f"    {text}" for text in record["reasons"][:reasons]]
        more = len(record["reasons"]) - reasons
        lines += [f"    and {more} more"] if more > 0 else []
    totals = ", ".join(f"{number} {verdict}" for verdict, number in sorted(counts.items()))
    return "\n".join([*lines, f"{len(records)} wearers: {totals}."]) + "\n"


def name_of(record: Record) -> str:
    """Label and scan file of a record."""
    return f"{record['identity']['wearer'] or UNNAMED} ({_scan(record)})"
