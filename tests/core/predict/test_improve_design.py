"""The search: deterministic, never sells a worse design as better, and its choices are real recipes."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from functools import cache
from xml.etree import ElementTree

import numpy as np
import pytest
from bare import bare_recipe
from sealwright.designing.shaped_surface import ShapedSurface
from sealwright.designing.sketch import sketch
from sealwright.errors import BadRecipe, DoesNotFit
from sealwright.limits import limit
from sealwright.physics.prediction_settings import PredictionSettings, StrapAssumptions
from sealwright.predict.assumed import assumed_of
from sealwright.predict.hanging import hanging
from sealwright.progress import Step, run_to_end
from sealwright.recipe import Recipe, recipe_from_json, recipe_to_json, with_values
from sealwright.report.page.trade_off import trade_off_page
from sealwright.search import evaluator, improve
from sealwright.search.design_variables import RANGES, design_variables_of, stepped, usual_keys, value_of
from sealwright.search.evaluator import ImproveSettings
from sealwright.search.full_check import FullCheck, full_check
from sealwright.search.improve import HEAVIER_G, Improvement, improve_design_steps
from sealwright.search.improve_files import improve_files, improve_text, spoken_value
from sealwright.search.search import SearchSettings
from sealwright.verdicts.judge import judge
from sealwright.verdicts.measure import measured_of
from to_the_end import improve_design, predict

from .wearers import invented, sketched

pytestmark = pytest.mark.heavy

KEYS = ("seal_line.nose_drop_mm", "band.width_mm", "cushion.thickness_mm")
SHARED = PredictionSettings(straps=StrapAssumptions(upper_share=0.5))
"""The search settles neither pull nor share: both are given, so that a prediction takes the same."""
START = replace(with_values(Recipe(), {"straps.tension_n": 4.5}), prediction=SHARED)
STEPS: list[Step] = []


def settings(seed: int = 1) -> ImproveSettings:
    search = SearchSettings(evaluations=12, group=6, seed=seed)
    return ImproveSettings(search, samples=64, confirm_samples=128)


@cache
def found() -> Improvement:
    return improve_design(invented(), START, settings(), keys=KEYS, tell=STEPS.append)


def test_front_is_a_trade_off_and_better_is_better():
    front, start = found().front, found().start
    pressures = [c.numbers.pressure_kpa for c in front]
    assert pressures == sorted(pressures)
    for one in front:  # nobody is beaten in everything
        assert not any(all(np.array(c.goals) <= one.goals) and c.goals != one.goals for c in front)
    assert start.values == {key: value_of(START, key) for key in KEYS}
    for choice in found().better:
        assert choice.numbers.pressure_kpa <= start.numbers.pressure_kpa
        assert choice.numbers.working >= start.numbers.working
        assert choice.mass_g <= start.mass_g + HEAVIER_G
    # The start is beaten or stands in the front itself.
    assert any(all(np.array(c.goals) <= start.goals) for c in front)


def test_wider_bands_press_less():
    # Same pull over more skin (physics of any cushion): the softest of the front is wider than the start.
    assert found().front[0].values["band.width_mm"] > START.band.width_mm
    assert found().front[0].numbers.pressure_kpa < found().start.numbers.pressure_kpa


def test_choices_are_recipes_that_give_their_numbers():
    """The whole prediction of the recipe on the same fresh draws says the same of it."""
    choice = found().front[0]
    again = recipe_from_json(improve_files(found())["recipe-1.json"].decode())
    assert again == choice.recipe
    design, assumed = sketch(invented(), again), assumed_of(again)
    fit = replace(assumed.fit, samples=settings().confirm_samples, seed=assumed.fit.seed + 1)
    summary = predict(design, replace(assumed, fit=fit)).summary
    assert choice.numbers.pressure_kpa == pytest.approx(summary.pressure_p95_kpa, rel=1e-6)
    assert choice.numbers.holding == summary.share_holding
    assert choice.numbers.reaching == summary.share_reaching_100
    assert choice.numbers.working <= min(summary.share_holding, summary.share_reaching_100)
    assert design.chamber_ml == pytest.approx(choice.chamber_ml)
    assert choice.mass_g == pytest.approx(hanging(design).mass_g)


def test_seed_decides_and_nothing_else():
    """Not the number of processes either."""
    small = replace(settings(), search=SearchSettings(evaluations=8, group=4), build_picks=False)
    one, two = (
        improve_design(invented(), START, replace(small, workers=number), keys=KEYS[2:]) for number in (1, 2)
    )
    assert improve_files(one) == improve_files(two)
    other = improve_design(
        invented(), START, replace(small, search=replace(small.search, seed=5)), keys=KEYS[2:]
    )
    assert improve_files(other) != improve_files(one)


def test_progress_rises_and_picks_are_built():
    found()
    fractions = [step.fraction for step in STEPS]
    assert fractions == sorted(fractions) and fractions[-1] < 1.0 and len(STEPS) > 12
    assert set(found().picks) <= {"softest", "surest", "balanced"}
    assert all(pick.full is not None for pick in found().picks.values())


def test_recommended_designs_are_examined_in_full_and_no_worse():
    """Each pick is designed again from its recipe: it is not refused, presses no harder, works as often."""
    start = found().start_check
    assert start is not None
    for pick in {id(p): p for p in found().picks.values()}.values():
        again = full_check(invented(), pick.recipe)
        assert again == pick.full and again.verdict != "fail" and not again.failed
        assert again.pressure_kpa <= start.pressure_kpa
        assert again.working >= min(start.working, limit("hold_share").value)


@pytest.mark.both
def test_what_a_report_refuses_is_not_recommended():
    """The same search with an examination that fails all: no pick, and the text says so."""
    sunk = replace(judge(measured_of(sketched()))[0], verdict="fail")
    small = replace(settings(), search=SearchSettings(evaluations=8, group=4))
    steps = improve_design_steps(
        invented(), START, small, keys=KEYS[1:2], examine=lambda design: ((sunk,), None)
    )
    refused = run_to_end(steps)
    assert refused.picks == {} and refused.start_check.verdict == "fail"
    assert "No design is recommended" in improve_text(refused)
    assert json.loads(improve_files(refused)["improve.json"])["start"]["full"]["pressure_p95_kpa"] is None
    page = trade_off_page(refused, "marlo.ply")
    assert page.count('class="dot"') == len(refused.front)
    assert page.count('<a href="recipe-') >= len(refused.front)


@pytest.mark.both
def test_pressing_harder_or_working_less_often_is_worse():
    start = FullCheck("warn", (), 4.5, 0.93)
    assert FullCheck("warn", (), 4.4, 0.93).no_worse_than(start)
    assert not FullCheck("warn", (), 4.4, 0.92).no_worse_than(start)
    assert not FullCheck("pass", (), 4.6, 0.99).no_worse_than(start)
    assert not FullCheck("fail", ("Entry",), 2.0, 0.99).no_worse_than(start)
    # Past the share that is asked for nothing counts: both pulls were settled to reach it.
    assert FullCheck("warn", (), 4.4, 0.951).no_worse_than(FullCheck("warn", (), 4.5, 0.959))


def test_table_and_file_name_the_same_choices():
    data = json.loads(improve_files(found())["improve.json"])
    text = improve_text(found())
    assert len(data["front"]) == len(found().front)
    assert data["tried"] == 12 and "12 designs tried" in text
    assert "test its fit" in text and "test its fit" in data["caution"]
    assert [r["pressure_p95_kpa"] for r in data["front"]] == [c.numbers.pressure_kpa for c in found().front]


@pytest.mark.both
def test_steps_keep_the_start_and_the_ranges():
    parameters = design_variables_of(bare_recipe(), ["band.width_mm", "straps.upper_share"])
    assert stepped(parameters, {"band.width_mm": 15.0, "straps.upper_share": 0.27}) == {
        "band.width_mm": 15.0,
        "straps.upper_share": 0.27,
    }
    moved = stepped(parameters, {"band.width_mm": 17.3, "straps.upper_share": 0.3049})
    assert moved == {"band.width_mm": 17.5, "straps.upper_share": 0.3}
    narrow = replace(bare_recipe(), band=replace(bare_recipe().band, width_mm=7.0))
    # The recipe's own limit (6 mm) holds, though the range would reach down to 3 mm.
    assert design_variables_of(narrow, ["band.width_mm"])[0].low == 6.0
    assert with_values(bare_recipe(), moved).band.width_mm == 17.5


@pytest.mark.both
def test_a_switch_is_on_or_off():
    switch = design_variables_of(Recipe(), ["contact_surface.shaped"])
    assert (switch[0].low, switch[0].high, switch[0].start) == (0.0, 1.0, 0.0)
    moved = [
        stepped(switch, {"contact_surface.shaped": share})["contact_surface.shaped"] for share in (0.2, 0.8)
    ]
    assert moved == [False, True] and all(isinstance(value, bool) for value in moved)
    on = with_values(Recipe(), {"contact_surface.shaped": moved[1]})
    assert on.contact_surface.shaped is True and recipe_from_json(recipe_to_json(on)) == on
    assert design_variables_of(on, ["contact_surface.shaped"])[0].start == 1.0
    assert spoken_value(True) == "on" and spoken_value(False) == "off" and spoken_value(17.5) == "17.5"


def test_a_shaped_surface_is_searched_and_examined_with_its_own(monkeypatch):
    """Every shaped sketch wears the start's offsets; a surface that stays even is not searched."""
    tried: list[tuple[bool, bool]] = []
    sketching = evaluator.sketch

    def noted(prepared, recipe, **more):
        tried.append((recipe.contact_surface.shaped, more["surface"] is not None))
        return sketching(prepared, recipe, **more)

    monkeypatch.setattr(evaluator, "sketch", noted)
    chosen = replace(settings(), build_picks=False)
    keys = ("band.width_mm", "contact_surface.shaped")
    monkeypatch.setattr(improve, "chosen_surface", sloping)
    both = improve_design(invented(), START, chosen, keys=keys)
    assert (True, True) in tried and (False, False) in tried and len(set(tried)) == 2
    shaped = {choice.values["contact_surface.shaped"]: choice for choice in both.front}
    assert both.start.values["contact_surface.shaped"] is False
    for on, choice in shaped.items():
        assert choice.recipe.contact_surface.shaped is on
    monkeypatch.setattr(improve, "chosen_surface", staying_even)
    even = improve_design(invented(), START, chosen, keys=keys)
    # All else is searched as if there were no other surface, so that one more lever loses no design.
    same = [choice for choice in both.front if not choice.values["contact_surface.shaped"]]
    assert min(choice.goals[0] for choice in both.front) <= min(choice.goals[0] for choice in even.front)
    for kept in same:
        assert kept.goals in [choice.goals for choice in even.front]
    assert both.tried == even.tried + len(even.front)
    assert all(choice.values.keys() == {"band.width_mm"} for choice in even.front)


def sloping(prepared, *_, **__):
    """Offsets that rise by 1 mm over the chart, without drawing."""
    yield Step(0.5, "Shaping")
    side = prepared.face.chart.side
    return ShapedSurface("kept", np.repeat(np.linspace(-0.5, 0.5, side)[:, None], side, axis=1), part=1.0)


def staying_even(*_, **__):
    """None that is better."""
    yield Step(0.5, "Shaping")
    return ShapedSurface("nothing")


@pytest.mark.both
def test_usual_keys_have_an_effect():
    assert "seal_line.chin_front_mm" not in usual_keys(bare_recipe(), True)
    assert "seal_line.under_chin_mm" not in usual_keys(bare_recipe(), False)
    line = [tuple(map(float, p)) for p in sketched().seal_line.control]
    own = replace(bare_recipe(), seal_line=replace(bare_recipe().seal_line, control_points=tuple(line)))
    assert not any(key.startswith("seal_line") for key in usual_keys(own, True))
    assert "cushion.thickness_mm" not in usual_keys(bare_recipe(), True)
    assert "band.stand_off_mm" in usual_keys(bare_recipe(), True)
    assert "cushion.thickness_mm" in usual_keys(Recipe(), True)
    assert "contact_surface.shaped" in usual_keys(Recipe(), True)
    assert "straps.tension_n" in RANGES and "straps.tension_n" not in usual_keys(bare_recipe(), True)


@pytest.mark.both
def test_unknown_keys_and_tubes_are_refused():
    with pytest.raises(BadRecipe, match="cannot be varied"):
        improve_design(invented(), bare_recipe(), settings(), keys=["band.colour"])
    with pytest.raises(DoesNotFit, match="tube"):
        improve_design(invented(), bare_recipe(kind="tube"), settings())
    wrong = replace(bare_recipe(), prediction=replace(bare_recipe().prediction, pass_level=0.5))
    with pytest.raises(BadRecipe, match=r"recipe\.prediction\.pass_level"):
        improve_design(invented(), wrong, settings())


def test_page_plots_every_design_of_the_front_and_links_its_recipe():
    page = trade_off_page(found(), "marlo & co.ply")
    tree = ElementTree.fromstring(page[page.index("<svg") : page.index("</svg>") + 6])
    dots = [node for node in tree.iter("circle") if node.get("class") == "dot"]
    # Left to right as the pressures rise, and by the scale of the picture.
    across = [float(dot.get("cx")) for dot in dots]
    pressures = [c.numbers.pressure_kpa for c in found().front]
    assert len(dots) == len(pressures) and across == sorted(across)
    if len(dots) > 2:
        steps = np.diff(pressures) / (pressures[-1] - pressures[0])
        assert np.diff(across) / (across[-1] - across[0]) == pytest.approx(steps, abs=0.002)  # 0.1 px
    links = re.findall(r'href="(recipe[^"]*)"', page)
    assert links == [f"recipe-{n}.json" for n in range(1, len(dots) + 1)]
    assert set(links) < set(improve_files(found())) and "marlo &amp; co.ply" in page
    assert "fit test" in page and "http" not in page.split("</head>")[1]
