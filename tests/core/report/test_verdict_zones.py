"""Zones of the verdicts: no hair trigger, and a worse scan never gets a more lenient one (invariant 13)."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st
from sealwright.checks.fit import ContactFacts
from sealwright.verdicts.judge import judge, summary
from sealwright.verdicts.measured import ClearanceMeasured, ContactMeasured, Measured, ScanMeasured
from sealwright.verdicts.verdict import ORDER, Verdict

KEYS = ("contact.share", "contact.band_width_min_mm", "clearance.entry_mm", "clearance.nose_lips_mm")
LENGTHS = st.floats(0.0, 3.0)


def measured(
    off: float, width: float, entry: float, near: float, bound: float, noise: float = 0.1
) -> Measured:
    """A finished body measured on a scan of this noise, smoothed within this bound, mm; 15 mm asked for."""
    facts = ContactFacts(
        touch_mm=0.05 + bound,
        cushion_reach_mm=0.0,
        gap_min_mm=-off,
        gap_p5_mm=0.0,
        gap_median_mm=0.0,
        gap_p95_mm=0.0,
        gap_max_mm=off,
        # As the check takes it: what lies within the touch, which a larger bound widens.
        contact_share=1.0 if off <= 0.05 + bound else 0.9,
        band_width_min_mm=width,
        band_width_mean_mm=width,
    )
    return Measured(
        scan=ScanMeasured(noise_mm=noise, smoothing_bound_mm=bound),
        landmarks={},
        clearance=ClearanceMeasured(wanted_mm=7.0, nose_lips_mm=near, entry_mm=entry),
        contact=ContactMeasured(found=facts, wanted_gap_mm=0.0, wanted_width_mm=15.0),
    )


def judged(found: Measured) -> dict[str, Verdict]:
    return {verdict.key: verdict for verdict in judge(found)}


@settings(max_examples=300, deadline=None)
@given(
    LENGTHS,
    st.floats(0.0, 18.0),
    LENGTHS,
    st.floats(0.0, 12.0),
    st.floats(0.0, 1.0),
    st.floats(0.0, 1.0),
    st.floats(0.0, 3.0),
    st.floats(0.0, 3.0),
)
def test_a_worse_scan_never_gets_a_more_lenient_verdict(
    off: float,
    width: float,
    entry: float,
    near: float,
    bound: float,
    more_bound: float,
    noise: float,
    more_noise: float,
) -> None:
    """Same measured numbers, more noise and a larger smoothing bound: fail < warn < pass never rises."""
    good = judged(measured(off, width, entry, near, bound, noise))
    worse = judged(measured(off, width, entry, near, bound + more_bound, noise + more_noise))
    for key in (*KEYS, "scan.noise_mm"):
        assert ORDER.index(worse[key].verdict) <= ORDER.index(good[key].verdict), key


def test_zones_are_reached_and_no_limit_is_a_hair_trigger() -> None:
    """Just over a limit warns; only far over it fails. On a clean scan and on a noisy one."""
    for key, numbers in {
        "contact.share": [(0.19, 15, 0, 9), (0.21, 15, 0, 9), (0.51, 15, 0, 9)],
        "contact.band_width_min_mm": [(0, 13.6, 0, 9), (0, 13.4, 0, 9), (0, 8.9, 0, 9)],
        "clearance.entry_mm": [(0, 15, 0.049, 9), (0, 15, 0.051, 9), (0, 15, 0.36, 9)],
        "clearance.nose_lips_mm": [(0, 15, 0, 4.1), (0, 15, 0, 3.9), (0, 15, 0, 1.9)],
    }.items():
        found = [judged(measured(*row, bound=0.0))[key].verdict for row in numbers]
        assert found == ["pass", "warn", "fail"], key
    # A raw scan smoothed within 0.3 mm, with numbers that pass on a clean one.
    raw = judged(measured(0.18, 14.0, 0.06, 4.2, bound=0.3))
    assert [raw[key].verdict for key in KEYS] == ["warn", "warn", "warn", "warn"]


def test_asking_for_a_wide_band_makes_a_narrow_place_no_worse() -> None:
    """What a band of 15 mm bears, one of 22 mm bears too; that it is narrower than asked is said."""
    for width, wanted, verdict in [
        (9.1, 15, "warn"),
        (9.1, 22, "warn"),
        (8.9, 22, "fail"),
        (19.9, 22, "pass"),
    ]:
        found = measured(0.0, width, 0.0, 9.0, bound=0.0)
        assert found.contact is not None
        found = replace(found, contact=replace(found.contact, wanted_width_mm=wanted))
        assert judged(found)["contact.band_width_min_mm"].verdict == verdict, (width, wanted)


def test_what_every_mask_has_is_no_warning() -> None:
    """A warning that holds for every home-made mask is told apart and does not count."""
    own, common = judged(measured(0.3, 15.0, 0.0, 9.0, 0.0)), "Every mask gives back used air."
    verdicts = [own["contact.share"], own["scan.noise_mm"]]
    told = summary(verdicts)
    assert (told["verdict"], told["warned"], told["passed"], told["common"]) == ("warn", 1, 1, [])
    every = summary([replace(verdicts[0], common=common), verdicts[1]])
    assert (every["verdict"], every["warned"], every["passed"], every["common"]) == ("pass", 0, 1, [common])
    assert every["do_first"] == []
