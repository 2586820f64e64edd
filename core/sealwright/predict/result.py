"""What comes out of a prediction: results by part, maps on the band, charts along the seal line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..anthropometry.sizing import Sizing
from ..errors import Remark
from ..mesh import Bools, Floats
from ..physics.comfort import BandComparison, Comfort
from ..physics.contact_result import ContactResult
from ..physics.fit_range import FitRange
from ..physics.patch import StrapPull
from ..physics.prediction_settings import PredictionSettings
from ..physics.tension import TensionFound
from .air import Breathing
from .band import BandOnSkin


@dataclass(frozen=True)
class Spread:
    """A number with the range in which nine of ten draws of scan noise, skin and tension lie.

    Attributes
    ----------
    value : without any error, as designed.
    low, high : 5 and 95 % quantile.
    """

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class ContactSpread:
    """How the contact differs between plausible wearers."""

    peak_kpa: Spread
    mean_kpa: Spread
    share_closed: Spread
    share_held: Spread


def contact_spread(nominal: ContactResult, drawn: Sequence[ContactResult]) -> ContactSpread | None:
    """The spread of drawn contacts about the nominal one; None without draws."""
    if not drawn:
        return None
    names = ("peak_kpa", "mean_kpa", "share_closed", "share_held")
    values = np.array([[getattr(result, name) for name in names] for result in drawn])
    low, high = np.quantile(values, [0.05, 0.95], axis=0)
    return ContactSpread(
        *(Spread(float(getattr(nominal, n)), float(low[i]), float(high[i])) for i, n in enumerate(names))
    )


@dataclass(frozen=True, eq=False)
class LineChart:
    """Everything that varies along the seal line, one value per station.

    Attributes
    ----------
    along_mm : (n,) from station 0 at the nose towards the wearer's left.
    pressure_kpa : (n,) highest pressure across the band.
    gap_mm : (n,) smallest open distance across the band; 0 where it touches.
    held : (n,) presses harder than breath pressure plus the margin.
    leak_share : (n,) of the mean leak of the drawn wearers.
    """

    along_mm: Floats
    pressure_kpa: Floats
    gap_mm: Floats
    held: Bools
    leak_share: Floats


@dataclass(frozen=True, eq=False, kw_only=True)
class Prediction:
    """What is expected of a design on its wearer; none of it is a fit test.

    Attributes
    ----------
    settings : what was assumed; the scan noise in it is the larger of the assumed and the measured one.
    band : the contact band on the skin.
    pulls : the straps.
    contact, comfort, compared : balance under the straps, how it presses, and beside it a narrow hard edge;
        None when the mask finds no hold (``compared`` also when only the narrow edge finds none).
    spread : how contact differs between the drawn wearers; None likewise.
    fit : range of the fit factor; None likewise.
    to_close, to_hold, at_capillary : strap tensions; None likewise.
    lift_off_n : least strap force against breathing out (docs/standards section 6).
    breathing : resistance, its limits, dead space and rebreathed air.
    sizing : the wearer among others; None where sellion or menton is missing.
    medium_source : confidence and source of the medium's resistance.
    remarks : what the maker should know.
    refusal : why there is no contact; empty when there is one.
    """

    settings: PredictionSettings
    band: BandOnSkin
    pulls: tuple[StrapPull, ...]
    contact: ContactResult | None
    comfort: Comfort | None
    compared: BandComparison | None
    spread: ContactSpread | None
    fit: FitRange | None
    to_close: TensionFound | None
    to_hold: TensionFound | None
    at_capillary: TensionFound | None
    lift_off_n: float
    breathing: Breathing
    sizing: Sizing | None
    medium_source: tuple[str, str]
    remarks: tuple[Remark, ...]
    refusal: str = ""

    @property
    def pressure_on_band(self) -> Floats | None:
        """Pressure (n, k) in kPa on the contact rows, outer edge first; None without hold."""
        return None if self.contact is None else self.band.grid(self.contact.pressure_kpa)

    @property
    def gap_on_band(self) -> Floats | None:
        """Open distance (n, k) in mm that stays after balance, likewise."""
        return None if self.contact is None else self.band.grid(self.contact.residual_gap_mm)

    @property
    def chart(self) -> LineChart | None:
        """Values along the seal line, for a strip chart; None without hold."""
        if self.contact is None or self.fit is None:
            return None
        middle = self.band.places[:, int(np.argmin(np.abs(self.band.across_mm)))]
        steps = np.linalg.norm(np.diff(middle, axis=0), axis=1)
        touch = self.settings.contact
        return LineChart(
            np.concatenate([[0.0], np.cumsum(steps)]),
            self.contact.station_pressure_kpa,
            self.contact.station_gap_mm,
            self.contact.station_pressure_kpa * 1e3 >= touch.breath_pa + touch.seal_margin_pa,
            self.fit.station_share,
        )
