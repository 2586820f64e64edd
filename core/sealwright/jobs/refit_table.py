"""The table of a refit: one line for each wearer, as JSON, CSV and plain text."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Sequence
from typing import Any

FORMAT = "sealwright-refit-table-1"
_FIRST = ("wearer", "scan", "verdict", "reasons")


def table_json(records: Sequence[dict[str, Any]]) -> bytes:
    """All records in order, with a count of verdicts."""
    counts: dict[str, int] = {}
    for record in records:
        counts[record["verdict"]] = counts.get(record["verdict"], 0) + 1
    rows = [{key: r.get(key) for key in (*_FIRST, "state", "values", "error")} for r in records]
    data = {"format": FORMAT, "verdicts": dict(sorted(counts.items())), "wearers": rows}
    return (json.dumps(data, indent=1, ensure_ascii=False) + "\n").encode("utf-8")


def table_csv(records: Sequence[dict[str, Any]]) -> bytes:
    """One line for each wearer; further columns are the values any of them has, in order of appearance."""
    names: dict[str, None] = {}
    for record in records:
        names.update(dict.fromkeys(record["values"]))
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")  # RFC 4180
    writer.writerow([*_FIRST, *names])
    for record in records:
        fixed = [record["wearer"], record["scan"], record["verdict"], " | ".join(record["reasons"])]
        writer.writerow([_cell(v) for v in (*fixed, *(record["values"].get(name, "") for name in names))])
    return stream.getvalue().encode("utf-8")


def _cell(value: Any) -> Any:
    """A text that a spreadsheet would take for a formula is marked as text."""
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@") else value


def table_text(records: Sequence[dict[str, Any]], reasons: int = 2) -> str:
    """For reading: wearer, verdict, and the first reasons below."""
    width = max((len(record["wearer"]) for record in records), default=0)
    lines = []
    for record in records:
        lines.append(f"{record['wearer']:<{width}}  {record['verdict'].upper()}")
        lines += [f"    {text}" for text in record["reasons"][:reasons]]
        more = len(record["reasons"]) - reasons
        lines += [f"    and {more} more"] if more > 0 else []
    return "\n".join(lines) + "\n"
