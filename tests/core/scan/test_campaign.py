"""Seeded damage from the file to the mask: hundreds of cases, and not one failure.

The long run is ``python tools/damage_run.py --cases 10000``.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections import Counter
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from sealwright.errors import DesignError, Where
from trials import campaign
from trials.campaign import Case, Outcome, case_of, outcome_of
from trials.damage_more import FILE_KINDS, MESH_KINDS
from trials.places import ROOT

pytestmark = pytest.mark.heavy

READ, PREPARED, PREVIEWED = range(10_000, 10_240), range(20_000, 20_006), range(30_004, 30_005)
DESIGNED = (2_220, 2_222)  # the first lacks skin beside the bridge of the nose, where an edge hangs in


def failed(outcomes: list[Outcome]) -> list[str]:
    return [f"seed {o.seed} {o.stage}: {o.detail} [{o.made}]" for o in outcomes if o.kind == "failure"]


def test_readers_take_or_refuse_hundreds_of_damaged_files() -> None:
    cases = [case_of(seed, 1_000) for seed in READ]  # readers do not care how fine a head is
    outcomes = [outcome_of(case, "read") for case in cases]
    assert failed(outcomes) == []
    count = Counter(o.kind for o in outcomes)
    # Two in five files are spoilt; most of these are refused, and hardly any other.
    assert 0.2 < count["refused"] / len(outcomes) < 0.5
    made = " ".join(case.made for case in cases)
    assert all(kind.__name__ in made for kind in (*MESH_KINDS, *FILE_KINDS))
    unspoilt = [o for case, o in zip(cases, outcomes, strict=True) if not case.spoilt]
    assert all(o.kind == "valid" for o in unspoilt)


@pytest.mark.parametrize(
    ("stage", "seeds"), [("prepare", PREPARED), ("preview", PREVIEWED), ("design", DESIGNED)]
)
def test_damaged_scans_are_prepared_or_refused(stage: str, seeds: Iterable[int]) -> None:
    outcomes = [outcome_of(case_of(seed), stage) for seed in seeds]
    assert failed(outcomes) == []
    assert any(o.kind == "valid" for o in outcomes)


def test_a_case_is_the_same_every_time() -> None:
    first, again = case_of(10_003), case_of(10_003)
    assert (first.data, first.made) == (again.data, again.made)


def test_failures_are_seen(monkeypatch) -> None:
    """The judge can fail: by a traceback, a refusal without a way to mend it, and a silent wrong scale."""
    case = case_of(10_001)

    def crash(*_: object) -> str:
        raise ZeroDivisionError("division by zero")

    def mute(*_: object) -> str:
        raise DesignError("Something.", Where("scan"), "")

    for harm in (crash, mute):
        monkeypatch.setattr(campaign, "_run", harm)
        assert outcome_of(case, "read").kind == "failure"


def test_silently_wrong_scale_is_a_failure() -> None:
    seed = next(s for s in range(40_000, 40_100) if _plain(case_of(s)))
    case = case_of(seed)
    assert outcome_of(case, "prepare").kind == "valid"
    wrong = outcome_of(replace(case, mm_per_unit=2.0 * case.mm_per_unit), "prepare")
    assert wrong.kind == "failure" and "silently wrong: scale" in wrong.detail
    off = outcome_of(replace(case, pronasale=case.pronasale + 40.0 / case.mm_per_unit), "prepare")
    assert off.kind == "failure" and "nose tip off" in off.detail


def _plain(case: Case) -> bool:
    """A head without damage."""
    return case.made.count(",") == 2 and np.isclose(case.mm_per_unit, 1.0)


def test_long_run_goes_on_where_it_was_stopped(tmp_path: Path) -> None:
    out = tmp_path / "damage.jsonl"
    done = {"seed": 5, "stage": "prepare", "kind": "failure", "detail": "kept", "made": "before"}
    out.write_text(json.dumps(done) + "\n" + '{"seed": 6, "sta')
    command = [sys.executable, str(ROOT / "tools" / "damage_run.py"), "--cases", "1", "--first", "5"]
    ran = subprocess.run([*command, "--out", str(out)], capture_output=True, text=True, check=False)
    assert ran.returncode == 1, ran.stderr
    assert "FAILURE seed 5: kept" in ran.stdout
