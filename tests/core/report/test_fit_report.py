"""The machine-readable report: schema, documented keys, cautions, determinism, numbers against the solids."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import jsonschema
import numpy as np
import pytest
import trimesh
from sealwright.errors import BadRecipe
from sealwright.hardware.allowance import AllowanceSettings, allowance_of
from sealwright.hardware.holder import make_holder
from sealwright.hardware.options import PORT_KINDS, HolderSettings, PortSettings
from sealwright.hardware.ports import make_port
from sealwright.recipe import recipe_from_json
from sealwright.report.fit_report import fit_report, report_json
from sealwright.report.keys import glossary, glossary_entry, leaves
from sealwright.report.schema import report_schema
from sealwright.report.sections.hardware import flat_keys
from sealwright.verdicts.measure import Examined
from to_the_end import predict

from . import samples

# A key that ends in a unit must say the same unit in the glossary.
ENDINGS = {
    "_nmm": "N mm",
    "_kg": "kg",
    **{"_mm": "mm", "_mm2": "mm2", "_mm3": "mm3", "_ml": "mL", "_l": "L", "_cm2": "cm2"},
    **{"_pa": "Pa", "_kpa": "kPa", "_mpa": "MPa", "_n": "N", "_g": "g", "_g_cm3": "g/cm3"},
    **{"_deg": "deg", "_percent": "%", "_share": "1", "_h": "h", "_min": "min", "_s": "s"},
    **{"_l_min": "L/min", "_cm_s": "cm/s", "_pa_s_m": "Pa s/m", "_per_min": "1/min"},
}
UNITS = set(ENDINGS.values()) | {
    "-",
    "money",
    "1 and mm",
    "see unit",
    "see the recipe schema",
    "see its schema",
}


def validator() -> jsonschema.Draft202012Validator:
    schema = report_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


def test_reports_validate():
    for report in (
        samples.report(),
        fit_report(samples.tube()),
        fit_report(samples.design(), Examined(soundness=samples.soundness())),
    ):
        assert [e.message for e in validator().iter_errors(json.loads(report_json(report)))] == []


@pytest.mark.parametrize(
    "harm",
    [
        lambda r: r.pop("cautions"),
        lambda r: r["contact"].pop("gap_max_mm"),
        lambda r: r["contact"].update(gap_max_mm="small"),
        lambda r: r["scan"].update(new_number_mm=1.0),
        lambda r: r["parts"]["body"]["soundness"].update(sound="yes"),
        lambda r: r["recipe"]["band"].update(width_mm=500.0),
        lambda r: r["hardware"]["ports"][0].update(unheard_of_mm=1.0),
        lambda r: r["stations"]["gap_mm"].append(None),
    ],
)
def test_schema_refuses_harmed_reports(harm):
    report = samples.report()
    harm(report)
    assert list(validator().iter_errors(report))


def test_every_leaf_is_documented_with_its_unit():
    for report in (samples.report(), fit_report(samples.tube())):
        found = list(leaves(report))
        assert len(found) > 150
        for path, value in found:
            entry = glossary_entry(path)
            assert entry is not None, path
            if isinstance(value, int | float) and not isinstance(value, bool):
                assert entry.unit not in ("-", ""), f"{path} is a number without unit"


def test_glossary_is_complete_and_agrees_with_the_names():
    for path, entry in glossary().items():
        assert entry.meaning.endswith("."), path
        assert entry.unit in UNITS, path
        name = path.replace("[]", "").rsplit(".", 1)[-1]
        ending = max((e for e in ENDINGS if name.endswith(e)), key=len, default=None)
        if ending and entry.type in ("number", "integer"):
            assert entry.unit == ENDINGS[ending], path


@pytest.mark.parametrize("kind", PORT_KINDS)
def test_facts_of_every_port_are_documented(kind):
    allowance = allowance_of(AllowanceSettings())
    for seal in ("o_ring", "soft_ring", "flat"):
        for gender in ("male", "female"):
            bore = 18.0 if kind == "cone" else 30.0
            settings = PortSettings(kind=kind, diameter_mm=60.0, bore_mm=bore, seal=seal, cone_gender=gender)
            for name, value in flat_keys(make_port(settings, allowance).facts).items():
                entry = glossary_entry(f"hardware.ports[].{name}")
                assert entry is not None, name
                assert isinstance(value, str) == (entry.type == "text"), name


@pytest.mark.parametrize(("shape", "retainer"), [("disc", "snap"), ("disc", "screw"), ("pad", "none")])
def test_facts_of_every_holder_are_documented(shape, retainer):
    holder = make_holder(
        HolderSettings(shape=shape, retainer=retainer), PortSettings(), allowance_of(AllowanceSettings())
    )
    assert [n for n in flat_keys(holder.facts) if glossary_entry(f"hardware.holder.{n}") is None] == []


def test_cautions_say_what_standards_ask_for():
    # The strings are those asked of every report in the project's safety reference.
    text = " ".join(c["text"] for c in samples.report()["cautions"]).lower()
    for words in (
        "not certified",
        "oxygen",
        "19.5",
        "idlh",
        "facial hair",
        "seal check",
        "fit test",
        "children",
    ):
        assert words in text
    assert "skin reaction" in text
    assert "a prediction is no fit test" in text


@pytest.mark.costly
def test_two_runs_differ_only_in_timings():
    first = report_json(fit_report(samples.design(), samples.examined(), timings={"design": 1.0}))
    again = predict(samples.design(), samples.few_samples())
    second = report_json(
        fit_report(samples.design(), replace(samples.examined(), prediction=again), timings={"design": 2.0})
    )
    assert first != second
    one, two = json.loads(first), json.loads(second)
    assert one.pop("timings") != two.pop("timings")
    assert report_json(one) == report_json(two)
    assert list(json.loads(first))[-1] == "timings"


def test_numbers_agree_with_trimesh():
    report, design = samples.report(), samples.design()
    for name, solid in design.parts.items():
        mesh = trimesh.Trimesh(solid.mesh.vertices, solid.mesh.faces, process=False)
        # Both sum signed tetrahedra; six digits are kept, so the last one may be off by half.
        assert report["volumes"]["parts_mm3"][name] == pytest.approx(mesh.volume, rel=6e-6)
        assert report["parts"][name]["area_mm2"] == pytest.approx(mesh.area, rel=6e-6)
        assert np.allclose(report["parts"][name]["bounding_box_mm"], mesh.bounds, rtol=1e-5, atol=1e-5)
        assert report["parts"][name]["soundness"]["sound"] == mesh.is_watertight
        # Density of PETG 1.27 g/cm3: several public source tables that agree (V).
        assert report["masses"]["parts"][name]["mass_g"] == pytest.approx(mesh.volume * 1.27e-3, rel=6e-6)
    assert report["masses"]["total_g"] == pytest.approx(
        sum(p["mass_g"] for p in report["masses"]["parts"].values()), rel=1e-5
    )


def test_filter_numbers_follow_from_area():
    # v = Q / A and dp = k v (Darcy); 85 L/min through 100 cm2 is 14.17 cm/s.
    section = samples.report()["filter"]
    for row in section["at_flows"]:
        velocity = row["flow_l_min"] * 1000.0 / 60.0 / section["area_cm2"]
        assert row["face_velocity_cm_s"] == pytest.approx(velocity, rel=1e-5)
        assert row["medium_drop_pa"] == pytest.approx(
            section["resistance_pa_s_m"] * velocity / 100.0, rel=1e-5
        )


def test_stations_agree_with_the_line():
    report = samples.report()
    stations, line = report["stations"], report["seal_line"]
    count = line["stations"]
    lists = [v for k, v in stations.items() if k != "marks_mm" and v is not None]
    assert all(len(v) == count for v in lists)
    points = np.array(stations["point_mm"])
    around = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1).sum()
    assert around == pytest.approx(line["length_mm"], rel=1e-4)  # points carry six digits
    marks = stations["marks_mm"]
    assert marks["nose"] < marks["left cheek"] < marks["chin"] < marks["right cheek"] < line["length_mm"]
    assert points[:, 0][count // 4] > 0 > points[:, 0][3 * count // 4]
    assert max(stations["gap_mm"]) == report["contact"]["gap_max_mm"]
    assert min(stations["width_mm"]) == report["contact"]["band_width_min_mm"]
    assert sum(stations["leak_share"]) == pytest.approx(1.0, abs=1e-4)


def test_transform_keeps_full_precision_and_recipe_can_be_read_back():
    report = json.loads(report_json(samples.report()))
    assert (np.array(report["scan_to_design"]) == samples.prepared().scan_to_design).all()
    assert recipe_from_json(report["recipe"]) == samples.design().recipe


def test_second_pose_of_the_same_face_lifts_nothing():
    section = samples.report()["second_pose"]
    assert section["lifted_share"] == 0.0
    assert section["refusal"] == ""
    # The same face: the balance is that of the first pose.
    assert section["closed_share"] == pytest.approx(
        samples.report()["prediction"]["contact"]["share_closed"], abs=0.02
    )
    assert section["weaknesses"] and all(w.strip() for w in section["weaknesses"])


def test_ranges_enclose_what_they_are_ranges_of():
    report = samples.report()
    quantiles = list(report["prediction"]["fit_factor"]["quantiles"].values())
    assert quantiles == sorted(quantiles)
    for row in report["breathing"]["resistance"]:
        assert row["total_low_pa"] <= row["total_pa"] <= row["total_high_pa"]
    parts = report["breathing"]
    whole = report["volumes"]["chamber_ml"] + parts["dead_space_port_ml"] + parts["dead_space_holder_ml"]
    assert parts["dead_space_ml"] == pytest.approx(whole, rel=1e-4)


def test_json_has_no_bare_infinity():
    text = report_json(samples.report())
    assert "NaN" not in text and "Infinity" not in text

    def walk(value):
        if isinstance(value, dict):
            return all(walk(v) for v in value.values())
        if isinstance(value, list):
            return all(walk(v) for v in value)
        return not isinstance(value, float) or math.isfinite(value)

    assert walk(samples.report())


def test_unknown_setting_of_a_prediction_is_refused():
    from dataclasses import replace

    settings = samples.few_samples()
    wrong = replace(settings, fit=replace(settings.fit, scan_noise_mm=9.0))
    with pytest.raises(BadRecipe, match="scan_noise_mm"):
        predict(samples.design(), wrong)
