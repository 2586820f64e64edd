"""Every number that a verdict, a refusal or a remark holds a measurement against: one table, one look-up."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from .tables import table


@dataclass(frozen=True, kw_only=True)
class Limit:
    """One row of ``limits`` in the table of limits.

    Attributes
    ----------
    key : its name in the table.
    value, unit : the number; "1" for shares, counts and factors.
    text : what is limited.
    source, confidence : where the number comes from, and how sure it is (V verified on a secondary page,
        M from memory or practice, C computed).
    """

    key: str
    value: float
    unit: str
    text: str
    source: str
    confidence: str


@dataclass(frozen=True)
class ResistanceLimit:
    """One row of the table of breathing resistance.

    Attributes
    ----------
    name : what it is a limit of.
    phase : "inhalation" or "exhalation".
    flow_l_min : constant flow of the test.
    limit_pa : largest pressure.
    scope : "mask with filter", "body without filter", "body with valve" or "filter alone".
    as_published : value and unit of the source.
    confidence, source : tag and place.
    """

    name: str
    phase: str
    flow_l_min: float
    limit_pa: float
    scope: str
    as_published: str
    confidence: str
    source: str


@cache
def resistance_limits() -> tuple[ResistanceLimit, ...]:
    """All limits of breathing resistance, in the order of the table."""
    return tuple(ResistanceLimit(**row) for row in table("limits")["resistance"])


def inhalation_limits() -> list[ResistanceLimit]:
    """The verified limits of breathing in through a mask with its filter."""
    wanted = ("inhalation", "mask with filter")
    return [row for row in resistance_limits() if (row.phase, row.scope) == wanted]


@cache
def limits() -> dict[str, Limit]:
    """All rows by key, in the order of the table."""
    rows: list[dict[str, str]] = table("limits")["limits"]
    return {row["key"]: Limit(**{**row, "value": float(row["value"])}) for row in rows}  # type: ignore[arg-type]


def limit(key: str) -> Limit:
    """The row of a key: ``limit("entry").value`` is 0.05 (mm).

    Raises
    ------
    KeyError : no such row, which is our fault.
    """
    return limits()[key]


def line_distance_mm(landmark: str) -> float | None:
    """Least distance in mm of the seal line from a landmark of either side; None where none is asked."""
    name = landmark.removesuffix("_left").removesuffix("_right")
    row = limits().get(f"line_from_{name}")
    return row.value if row is not None else None
