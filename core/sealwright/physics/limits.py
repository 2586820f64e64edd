"""A predicted pressure held against a published limit."""

from __future__ import annotations

from dataclasses import dataclass

from ..limits import ResistanceLimit


@dataclass(frozen=True)
class LimitCheck:
    """A predicted pressure beside its limit.

    Attributes
    ----------
    limit : the row.
    value_pa : the prediction with the typical resistance of the medium.
    low_pa, high_pa : with the least and the largest resistance of its stated range.
    """

    limit: ResistanceLimit
    value_pa: float
    low_pa: float
    high_pa: float

    @property
    def passed(self) -> bool:
        """Whether the whole range keeps the limit: one that its middle alone keeps is not kept."""
        return self.high_pa <= self.limit.limit_pa

    @property
    def use(self) -> float:
        """Share of the limit that is used up."""
        return self.value_pa / self.limit.limit_pa
