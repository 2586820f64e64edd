"""Trust in the scan under the seal: each reason fires in the sector where the harm is, and nowhere else."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from bare import BARE_BAND, BARE_LINE, bare_recipe
from main_job.wearers import marlo_prepared
from sealwright.designing.prepared import Prepared
from sealwright.face.surface import face_chart, face_surface
from sealwright.facepiece.seal_line import SealLine
from sealwright.facepiece.seal_line_proposal import seal_line
from sealwright.facepiece.sectors import SECTORS, sectors_of
from sealwright.mesh import Floats, TriMesh, joined
from sealwright.report.page.trust import trust_block
from sealwright.scan.repair.clean import clean
from sealwright.trust.measures import noise_along
from sealwright.trust.reasons import DOUBTFUL, GOOD, RESCAN, Reason
from sealwright.trust.settings import TrustSettings
from sealwright.trust.verdicts import SealTrust, seal_trust
from sealwright.verdicts.judge import judge
from sealwright.verdicts.measured import ClearanceMeasured, Measured, ScanMeasured
from sealwright.verdicts.rules_scan import SCAN_RULES
from trials.places import open_data

STATIONS = 320


@cache
def line() -> SealLine:
    """Marlo's seal line; the harmed scans below are judged along this one."""
    face = marlo_prepared()
    return seal_line(face.face, face.landmarks, BARE_LINE, STATIONS, BARE_BAND.inner_mm)


@cache
def near_sector() -> tuple[np.ndarray, np.ndarray]:
    """For each vertex of Marlo's skin the sector it is nearest to, and how far that is, mm."""
    from scipy.spatial import cKDTree

    away, station = cKDTree(line().points).query(marlo_prepared().skin.vertices)
    return sectors_of(line().points, marlo_prepared().landmarks)[station], away


def in_sector(name: str, reach_mm: float = 20.0) -> np.ndarray:
    sector, away = near_sector()
    return np.flatnonzero((sector == SECTORS.index(name)) & (away < reach_mm))


def with_skin(skin: TriMesh) -> Prepared:
    """Marlo with another skin."""
    size = marlo_prepared().size
    return replace(marlo_prepared(), face=face_surface(skin, face_chart(size)), skin=skin)


def judged(prepared: Prepared) -> SealTrust:
    return seal_trust(prepared, line(), BARE_BAND)


def moved(vertices: np.ndarray, by: Floats) -> TriMesh:
    """Marlo's skin with some vertices (k,) moved along their normals by (k,) mm."""
    skin = marlo_prepared().skin
    v = skin.vertices.copy()
    v[vertices] += by[:, None] * skin.vertex_normals[vertices]
    return TriMesh(v, skin.faces)


def noisy(sector: str, sigma_mm: float) -> TriMesh:
    some = in_sector(sector)
    return moved(some, np.random.default_rng(3).normal(scale=sigma_mm, size=len(some)))


def troubled(trust: SealTrust) -> dict[str, str]:
    return {s.sector: s.verdict for s in trust.sectors if s.verdict != GOOD}


def test_clean_head_is_good_everywhere() -> None:
    trust = judged(marlo_prepared())
    assert troubled(trust) == {}
    assert trust.verdict == GOOD
    assert all(s.reasons == () and s.as_dict()["fix"] == "" for s in trust.sectors)


@pytest.mark.costly
@pytest.mark.scans
@pytest.mark.parametrize("name", ["head-mean", "head-b", "face-m36"])
def test_clean_open_data_are_good_everywhere(name: str) -> None:
    from sealwright.jobs.make import Source, prepare_source
    from sealwright.progress import run_to_end

    prepared = run_to_end(prepare_source(Source(open_data(name)), bare_recipe()))
    found = seal_line(prepared.face, prepared.landmarks, BARE_LINE, STATIONS, BARE_BAND.inner_mm)
    assert troubled(seal_trust(prepared, found, BARE_BAND)) == {}


@pytest.mark.scans
def test_stubble_of_the_raw_scan_is_seen() -> None:
    """Its notes speak of stubble; jaws and chin are where it grows, the nose bridge is smooth."""
    from sealwright.jobs.make import Source, prepare_source
    from sealwright.progress import run_to_end

    prepared = run_to_end(prepare_source(Source(open_data("raw-scan-a")), bare_recipe()))
    found = seal_line(prepared.face, prepared.landmarks, BARE_LINE, STATIONS, BARE_BAND.inner_mm)
    trust = seal_trust(prepared, found, BARE_BAND)
    hairy = {s.sector for s in trust.sectors if any("stubble" in r.text for r in s.reasons)}
    # Which of them depends on where the line runs under the chin; nowhere else is there stubble.
    assert hairy and hairy <= {"left jaw", "chin", "right jaw"}
    assert not {"nose bridge", "left nose side", "right nose side"} & hairy


@pytest.mark.parametrize("sector", ["nose bridge", "left cheek", "right mouth side"])
@pytest.mark.parametrize(("sigma_mm", "verdict"), [(0.7, DOUBTFUL), (3.0, RESCAN)])
def test_noise_in_one_sector(sector: str, sigma_mm: float, verdict: str) -> None:
    trust = judged(with_skin(noisy(sector, sigma_mm)))
    assert troubled(trust) == {sector: verdict}
    assert "scatters" in trust.named(sector).reasons[0].text
    # 30 %: irregular fans, and windows that reach into the next sectors. Noise as large as the triangles
    # (2.6 mm) also tilts the normals that it is measured along and reads up to three times too low.
    assert trust.named(sector).measures.noise_mm < 1.3 * sigma_mm
    assert trust.named(sector).measures.noise_mm > (0.7 if sigma_mm < 1.0 else 0.33) * sigma_mm


def test_stubble_in_one_sector() -> None:
    trust = judged(with_skin(noisy("left jaw", 0.3)))
    assert troubled(trust) == {"left jaw": DOUBTFUL}
    assert "stubble" in trust.named("left jaw").reasons[0].text


def test_noise_that_is_the_same_everywhere_is_no_stubble() -> None:
    skin = marlo_prepared().skin
    every = np.arange(len(skin.vertices))
    trust = judged(with_skin(moved(every, np.random.default_rng(4).normal(scale=0.3, size=len(every)))))
    assert not any("stubble" in r.text for s in trust.sectors for r in s.reasons)


def test_hair_is_not_sought_on_the_nose() -> None:
    assert troubled(judged(with_skin(noisy("left nose side", 0.3)))) == {}


@pytest.mark.parametrize("sector", ["left cheek", "chin"])
def test_hole_in_one_sector(sector: str) -> None:
    skin, middle = marlo_prepared().skin, np.array(judged(marlo_prepared()).named(sector).point_mm)
    keep = np.linalg.norm(skin.vertices - middle, axis=1) > 9.0
    trust = judged(with_skin(skin.submesh(keep[skin.faces].all(axis=1))))
    assert troubled(trust) == {sector: RESCAN}
    assert "Guessed skin" in trust.named(sector).reasons[0].text
    # An 18 mm hole on a sector that is 24 to 36 mm long and 15 mm wide.
    assert 0.3 < trust.named(sector).measures.guessed_share < 0.8


def test_hole_beside_the_band_harms_nothing() -> None:
    skin, middle = marlo_prepared().skin, np.array(judged(marlo_prepared()).named("left cheek").point_mm)
    keep = np.linalg.norm(skin.vertices - middle - [22.0, 10.0, 5.0], axis=1) > 6.0
    assert not keep.all()
    assert troubled(judged(with_skin(skin.submesh(keep[skin.faces].all(axis=1))))) == {}


@pytest.mark.parametrize(("left_mm", "verdict"), [(3.6, DOUBTFUL), (9.0, GOOD)])
def test_border_of_the_scan_beside_one_sector(left_mm: float, verdict: str) -> None:
    """The scan ends some mm outside the band, which reaches 8.25 mm from the line, all along one cheek."""
    skin, (sector, away) = marlo_prepared().skin, near_sector()
    outer = BARE_BAND.width_mm * (1.0 - BARE_BAND.inner_share)
    # Everything behind this sector goes, back to where the chart ends, so that no hole is left to fill.
    gone = (sector == SECTORS.index("left mouth side")) & (away > outer + left_mm)
    gone &= skin.vertices[:, 0] > 0
    trust = judged(with_skin(skin.submesh(~gone[skin.faces].any(axis=1))))
    found = {s: v for s, v in troubled(trust).items() if s == "left mouth side"}
    assert found == ({} if verdict == GOOD else {"left mouth side": verdict})
    # Triangles with one corner gone are dropped whole: the skin ends up to one edge (2.6 mm) nearer.
    assert left_mm - 3.5 < trust.named("left mouth side").measures.border_mm < left_mm
    assert trust.named("right mouth side").verdict == GOOD


def test_steep_skin_in_one_sector() -> None:
    """A cliff of 40 mm along the left cheek, as the rim of an ear or a hand in the scan makes."""
    skin, some = marlo_prepared().skin, in_sector("left cheek", 40.0)
    middle = np.array(judged(marlo_prepared()).named("left cheek").point_mm)
    outside = (skin.vertices[some] - middle) @ np.array([1.0, 0.0, 0.0]) > 0
    v = skin.vertices.copy()
    ray = v[some] - marlo_prepared().face.chart.centre
    v[some] += np.where(outside, 40.0, 0.0)[:, None] * ray / np.linalg.norm(ray, axis=1, keepdims=True)
    trust = judged(with_skin(TriMesh(v, skin.faces)))
    assert "steep" in " ".join(r.text for r in trust.named("left cheek").reasons)
    assert trust.named("right cheek").verdict == trust.named("chin").verdict == GOOD


@pytest.mark.parametrize(("apart_mm", "verdict"), [(2.0, RESCAN), (0.3, GOOD)])
def test_double_skin_in_one_sector(apart_mm: float, verdict: str) -> None:
    """The face moved while it was scanned: a patch of skin lies twice, the second time behind the first."""
    skin, sector = marlo_prepared().skin, "right mouth side"
    some = np.isin(skin.faces, in_sector(sector)).all(axis=1)
    patch = skin.submesh(some)
    behind = TriMesh(patch.vertices - apart_mm * patch.vertex_normals, patch.faces)
    trust = judged(with_skin(joined(skin, behind)))
    # Below 0.7 mm it cannot be told from noise.
    assert troubled(trust) == ({} if verdict == GOOD else {sector: verdict})
    if verdict != GOOD:
        assert "Double skin" in trust.named(sector).reasons[0].text
        # The outer layer was taken: the skin is where it was without the second one.
        there = trust.named(sector).point_mm
        assert np.linalg.norm(skin.vertices - there, axis=1).min() < 2.6


def test_repaired_spikes_are_named_where_they_were() -> None:
    skin = marlo_prepared().skin
    some = in_sector("chin", 5.0)[::9][:4]
    repaired, report = clean(moved(some, np.full(4, 7.0)))
    assert report.spikes == len(report.spike_places) == 4
    trust = judged(replace(with_skin(repaired), remarks=report.remarks))
    assert troubled(trust) == {"chin": DOUBTFUL}
    assert trust.named("chin").measures.repaired == 4
    _, none = clean(skin)
    assert none.spike_places == ()


def test_coarse_scan_is_named() -> None:
    limits = TrustSettings(spacing_mm=0.5)
    trust = seal_trust(marlo_prepared(), line(), BARE_BAND, limits)
    assert all("apart" in s.reasons[0].text for s in trust.sectors)
    noisy_too = seal_trust(with_skin(noisy("left jaw", 0.3)), line(), BARE_BAND, limits)
    assert not any("stubble" in r.text for s in noisy_too.sectors for r in s.reasons)


def test_sectors_follow_each_other_and_mirror() -> None:
    points, marks = line().points, marlo_prepared().landmarks
    sector = sectors_of(points, marks)
    turned = np.roll(sector, len(sector) // 2)
    assert (np.unique(sector) == np.arange(10)).all()
    assert (np.diff(turned) % 10 <= 1).all()
    flip = {
        name.replace("left", "LEFT").replace("right", "left").replace("LEFT", "right"): p * [-1.0, 1, 1]
        for name, p in marks.items()
    }
    other = sectors_of(np.roll(points[::-1], 1, axis=0) * [-1.0, 1.0, 1.0], flip)
    mirror = np.roll((10 - sector[::-1]) % 10, 1)
    # Two stations: a border between sectors falls half a station to either side.
    assert (other != mirror).sum() <= 10
    for name, mark, side in (("left mouth side", "cheilion_left", 1), ("right cheek", "alare_right", -1)):
        place = points[sector == SECTORS.index(name)].mean(axis=0)
        assert np.linalg.norm(place - marks[mark]) < 40.0
        assert side * place[0] > 0


def test_noise_along_is_that_of_the_whole_skin() -> None:
    """Only skin near the line is looked at; the answer is the one that the whole skin gives."""
    from sealwright.face.denoise import robust_sigma, vertex_noise

    skin, points = noisy("left cheek", 0.5), line().points[::16]
    whole = vertex_noise(skin)
    for point, sigma in zip(points, noise_along(skin, points), strict=True):
        near = np.linalg.norm(skin.vertices - point, axis=1) <= 8.0
        assert sigma == pytest.approx(robust_sigma(whole[near]), rel=1e-9)


def test_report_names_the_sectors() -> None:
    trust = judged(with_skin(noisy("left jaw", 0.3)))
    section = {"verdict": trust.verdict, "sectors": [s.as_dict() for s in trust.sectors]}
    verdict = trust_verdict(trust.sectors)
    assert (verdict.verdict, verdict.value) == ("warn", 0.9)
    assert verdict.reason.startswith("Left jaw: Hair or stubble")
    assert "Shave" in verdict.fix
    for sector in section["sectors"]:
        sector["border_mm"] = None
    page = trust_block({"trust": {**section, "smooth_skin_mm": trust.smooth_mm}})
    assert page.count("! doubtful") == 1 and page.count("✓ good") == 9
    assert trust_block({"trust": None}) == ""
    good = tuple(replace(s, verdict="good", reasons=()) for s in trust.sectors)
    assert trust_verdict(good).verdict == "pass"
    bad = replace(good[0], verdict="rescan", reasons=(Reason("rescan", "Torn.", "Scan again."),))
    told = trust_verdict((bad, *good[1:]))
    assert (told.verdict, told.fix) == ("fail", "Scan again.")
    assert told.reason == f"{bad.sector.capitalize()}: Torn."


def trust_verdict(sectors):
    """What the rule of trust says of some sectors."""
    scan = ScanMeasured(noise_mm=0.1, smoothing_bound_mm=0.0)
    room = ClearanceMeasured(wanted_mm=None, nose_lips_mm=None, entry_mm=None)
    measured = Measured(scan=scan, landmarks={}, clearance=room, sectors=tuple(sectors))
    (verdict,) = judge(measured, [rule for rule in SCAN_RULES if rule.name == "trust"])
    return verdict
