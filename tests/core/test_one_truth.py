"""No limit is written outside its table, and the core keeps its promises on types, length and docstrings."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from sealwright.designing.context import QUALITIES
from sealwright.limits import limit, limits
from sealwright.physics.prediction_settings import PredictionSettings
from sealwright.report.keys import glossary
from sealwright.trust.settings import TrustSettings
from trials.places import ROOT

CORE, ADDON = ROOT / "core" / "sealwright", ROOT / "blender_addon"
# Quantities that a row of the table limits, as names and keys in the code say them.
LIMITED = (
    "safety_factor", "mass_solid", "holder_mass", "engaged_turns", "entry_mm", "deepest_mm", "nose_lips",
    "noise_mm", "guessed_share_under", "band_to_scan", "contact_share", "largest_deviation", "width_min",
    "fit_factor", "high_kpa", "peak_kpa", "inhaled_percent", "lifted_share", "lift_mm", "share_held",
    "share_closed", "over_capillary", "landmark_confidence", "straps_n",
)  # fmt: skip
FREE = (0, 1, -1)  # nothing, all, and signs are no limits
TELLING = (limit("skin_pressure").value,)  # nothing else has this number: wherever it stands, it is a copy


def sources(*folders: Path) -> Iterator[tuple[Path, ast.Module]]:
    """All modules below some folders."""
    for folder in folders:
        for path in sorted(folder.rglob("*.py")):
            yield path, ast.parse(path.read_text(encoding="utf-8"))


def written_limits(tree: ast.AST) -> list[str]:
    """Comparisons of a limited quantity with a number, and telling numbers anywhere."""
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare):
            text = ast.unparse(node)
            numbers = [n.value for n in ast.walk(node) if isinstance(n, ast.Constant) and _number(n.value)]
            if any(word in text for word in LIMITED) and any(n not in FREE for n in numbers):
                found.append(text)
        elif isinstance(node, ast.Constant) and _number(node.value) and node.value in TELLING:
            found.append(repr(node.value))
    return found


def _number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


@pytest.mark.parametrize(
    "line", ["if facts['lug_safety_factor'] < 1.5: pass", "good = entry_mm <= 0.05", "CAPILLARY_KPA = 4.27"]
)
def test_the_search_finds_what_was_there_before(line):
    assert written_limits(ast.parse(line))


def test_no_limit_is_written_outside_the_table():
    found = {str(path.relative_to(ROOT)): written_limits(tree) for path, tree in sources(CORE, ADDON)}
    assert {name: lines for name, lines in found.items() if lines} == {}


def test_rules_hold_no_numbers_of_their_own():
    """In the rules stand 0, 1, and 100 for per cent; every other number comes from the table."""
    for path, tree in sources(CORE / "verdicts"):
        if path.name.startswith("rules_"):
            numbers = {n.value for n in ast.walk(tree) if isinstance(n, ast.Constant) and _number(n.value)}
            assert numbers - {0, 1, 100} - {3} == set(), path.name  # three sectors are told in full


def test_every_row_of_the_table_is_read():
    text = "".join(
        path.read_text(encoding="utf-8") for folder in (CORE, ADDON) for path in folder.rglob("*.py")
    )
    unread = [key for key in limits() if f'"{key}"' not in text and not key.startswith("line_from_")]
    assert unread == []


def test_no_telling_number_is_written_in_a_text_file():
    """Sentences, words, glossary and tables of media take a limit by its name."""
    numbers = [f"{value:g}" for value in TELLING]
    for path in sorted(CORE.rglob("*")):
        if path.suffix in (".toml", ".txt"):
            text = path.read_text(encoding="utf-8")
            assert [number for number in numbers if number in text] == [], path.name


def test_the_glossary_names_limits_of_the_table():
    """A key that is judged says the number that judges it, and says the new one when the table changes."""
    raw = (CORE / "report" / "glossary.txt").read_text(encoding="utf-8")
    named = set(re.findall(r"\{(\w+)\}", raw))
    assert named <= set(limits()) and len(named) >= 15
    assert glossary()["second_pose.peak_kpa"].limit == f"{limit('skin_pressure').value:g}"
    assert glossary()["contact.gap_min_mm"].limit == f"-{limit('touch').value:g}"
    assert not any("{" in key.limit for key in glossary().values())


def test_defaults_that_are_limits_are_the_limits():
    """A setting whose usual value is a row of the table has no number of its own."""
    assert TrustSettings().noise_mm == limit("scan_noise").value
    assert PredictionSettings().pass_level == limit("fit_factor").value
    for path in (CORE / "trust" / "settings.py", CORE / "physics" / "prediction_settings.py"):
        source = path.read_text(encoding="utf-8")
        assert re.search(r"(noise_mm|pass_level): float = quantity\(\s*limit\(", source), path.name


def test_the_window_measures_at_the_stations_of_a_full_build():
    """The add-on asks the qualities of the core; it has no count of its own."""
    count = QUALITIES["final"].stations
    written = {
        str(path.relative_to(ROOT))
        for path, tree in sources(CORE, ADDON)
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and _number(node.value) and node.value == count
    }
    assert written == {"core/sealwright/designing/context.py"}


def test_resistance_has_one_table():
    """No other shared table has pressures at a flow: medium and breathing are held against the same rows."""
    for path in sorted((ROOT / "shared").glob("*.json")):
        text = path.read_text(encoding="utf-8")
        assert path.name == "limits.json" or ('"drop_pa"' not in text and '"limit_pa"' not in text), path.name
