"""Layers by height over the bed, as advised for a part."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class LayerRange:
    """One range of heights over the bed, mm, and the layers advised in it.

    Attributes
    ----------
    from_mm, to_mm : heights in the print file, as a slicer shows them.
    layer_mm, layers : height and number of the layers.
    cusp_mm : 95 % of the face in the range have steps no higher; None where the face does not reach.
    """

    from_mm: float
    to_mm: float
    layer_mm: float
    layers: int
    cusp_mm: float | None


@dataclass(frozen=True, kw_only=True)
class LayerAdvice:
    """Layers by height for one part.

    Attributes
    ----------
    ranges : from the bed to the top, without a gap.
    layers, time_min : of the whole part with them; estimates as in the plan.
    even_layers, even_time_min : the same in layers of one height, the printer's.
    cusp_p95_mm, over_share : of the face: steps with them, and share of it still over the limit.
    felt : the skin feels the steps; not where a strip of foam covers them.
    """

    ranges: tuple[LayerRange, ...]
    layers: int
    time_min: float
    even_layers: int
    even_time_min: float
    cusp_p95_mm: float
    over_share: float
    felt: bool = True

    @property
    def words(self) -> str:
        """The ranges in a few words: 0.2 mm; 0.12 mm from 29 to 65 mm."""
        first, *rest = self.ranges
        return "; ".join(
            [
                f"{first.layer_mm:g} mm",
                *(f"{r.layer_mm:g} mm from {r.from_mm:g} to {r.to_mm:.4g} mm" for r in rest),
            ]
        )
