"""What comes out of a prediction: results by part, maps on the band, charts along the seal line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..anthropometry.sizing import Sizing
from ..errors import Remark
from ..limits import limit
from ..mesh import Bools, Floats
from ..physics.comfort import BandComparison, Comfort
from ..physics.contact_result import ContactResult
from ..physics.fit_range import FitRange
from ..physics.hours import WearTime
from ..physics.layer_contact import LayerContact
from ..physics.least_pull import LeastPulls
from ..physics.patch import StrapPull
from ..physics.prediction_settings import PredictionSettings
from ..physics.statics import Hanging
from ..physics.tension import TensionFound
from ..physics.worn import Worn, quantile_of, share_of
from ..tables import table
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


def contact_spread(nominal: ContactResult, worn: Worn) -> ContactSpread | None:
    """The spread of drawn contacts about the nominal one; None where no draw finds its place.

    Shares of the line are those with the head upright while breathing out.
    """
    if not worn.good.any():
        return None
    names = ("peak_kpa", "mean_kpa", "share_closed", "share_held")
    drawn = (worn.peak_kpa, worn.mean_kpa, worn.closed[0], worn.held[0])
    spreads = []
    for name, values in zip(names, drawn, strict=True):
        low, high = np.quantile(values[worn.good], [0.05, 0.95])
        spreads.append(Spread(float(getattr(nominal, name)), float(low), float(high)))
    return ContactSpread(*spreads)


@dataclass(frozen=True)
class Summary:
    """One line by which designs are compared; every number is over the draws.

    Attributes
    ----------
    pressure_p95_kpa : median over the draws of the pressure that 95 % of the touching skin stay below.
    share_reaching_100 : draws whose overall fit factor (leak only) reaches 100.
    share_holding : draws in which every head position holds: in its place, and the whole line pressed.
    share_staying : draws in which the mask keeps its place in every head position, sealed or not.
    hours_low, hours_typical, hours_high : without a break, 5, 50 and 95 % of the draws.
    strap_pull_n : sum of the strap pulls.
    pressure_p95_error_kpa, share_reaching_100_error, share_holding_error, hours_low_error : what the number
    of
        draws leaves unsure.
    """

    pressure_p95_kpa: float
    share_reaching_100: float
    share_holding: float
    share_staying: float
    hours_low: float
    hours_typical: float
    hours_high: float
    strap_pull_n: float
    pressure_p95_error_kpa: float
    share_reaching_100_error: float
    share_holding_error: float
    hours_low_error: float


def summary_of(worn: Worn, hours: WearTime, pulls: Sequence[StrapPull]) -> Summary:
    """The line of numbers of a design."""
    rows = worn.good if worn.good.any() else np.ones_like(worn.good)
    pressure = quantile_of(worn.p95_kpa[rows], 0.5)
    reaching, holding = share_of(worn.fit_factor >= limit("fit_factor").value), share_of(worn.holds)
    return Summary(
        pressure.value,
        reaching.value,
        holding.value,
        float(worn.stays.mean()),
        hours.low.value,
        hours.typical.value,
        hours.high.value,
        sum(pull.tension_n for pull in pulls),
        pressure.error,
        reaching.error,
        holding.error,
        hours.low.error,
    )


def order_of_sites(mean_kpa: Mapping[str, float]) -> tuple[bool, str]:
    """Whether mean pressures by site stand in the published order, bridge over cheek, and why not.

    Under cushioned ventilation masks the bridge bore 8.8 +- 2.8 and the cheek 2.1 +- 1.0 kPa (see the skin
    table).
    """
    measured = table("skin")["in_vivo_check"]
    bridge = max((mean_kpa[name] for name in ("nasion", "rhinion") if name in mean_kpa), default=0.0)
    cheek = max((mean_kpa[name] for name in ("beside_nose", "cheek") if name in mean_kpa), default=0.0)
    found = (
        f"Typical mean pressure: nose bridge {bridge:.1f} kPa, cheek {cheek:.1f} kPa; measured under "
        "other masks: "
        f"bridge {measured['nose_bridge_kpa']['typical']} and cheek {measured['cheek_kpa']['typical']} kPa"
    )
    if bridge > cheek:
        return True, f"{found}. The order agrees."
    return False, (
        f"{found}. The order does not agree: those masks had one even cushion pulled on the bridge, "
        "while this band "
        "is trimmed to the skin, leaves the bridge where it stands off, and is pulled and weighed down "
        "towards the chin."
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
    settings : what was assumed; the scan noise in it is the larger of the assumed and the measured one, the
        share of the upper straps the settled one.
    band : the contact band on the skin.
    pulls : the straps, as hard as they were settled to pull.
    automatic_pull : whether the draws decided that.
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
    hanging : what weighs on the straps.
    worn, summary, hours, least : every draw, the line of numbers, how long it may be worn, and the least
    strap
        pulls; None without hold.
    layer : contact on an elastic layer with edges and slip, for a finished design; None for a sketch or
        preview.
    """

    settings: PredictionSettings
    band: BandOnSkin
    pulls: tuple[StrapPull, ...]
    automatic_pull: bool
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
    hanging: Hanging | None = None
    worn: Worn | None = None
    summary: Summary | None = None
    hours: WearTime | None = None
    least: LeastPulls | None = None
    layer: LayerContact | None = None

    @property
    def pull_n(self) -> float:
        """Mean pull of one strap, N; 0 without straps."""
        return sum(pull.tension_n for pull in self.pulls) / max(len(self.pulls), 1)

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
