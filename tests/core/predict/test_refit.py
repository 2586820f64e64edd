"""Many scans with one recipe: order, resuming after a kill, and failing scans that stop nobody."""

from __future__ import annotations

import csv
import io
import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from sealwright.errors import BadRecipe
from sealwright.jobs.refit import refit_many, refit_steps, tasks_of
from sealwright.jobs.refit_work import RECORD, valid_earlier_record
from sealwright.progress import Step, run_to_end
from sealwright.recipe import Recipe
from trials.places import ROOT

from .makers import by_content


def scans_of(folder: Path, words: dict[str, str]) -> list[Path]:
    folder.mkdir(exist_ok=True)
    for name, word in words.items():
        (folder / name).write_text(word)
    return [folder / name for name in words]


def calls(folder: Path) -> list[str]:
    log = folder / "calls.log"
    return [line.split()[0] for line in log.read_text().splitlines()] if log.exists() else []


def refit(scans, out, workers=0, recipe=None):
    return run_to_end(refit_steps(scans, recipe or Recipe(), out, by_content, workers))


def test_one_bad_scan_and_one_bug_stop_nobody(tmp_path):
    scans = scans_of(tmp_path / "in", {"c.ply": "ok", "a.ply": "bad", "b.ply": "bug", "d.ply": "fine"})
    found = refit([*scans, tmp_path / "in" / "missing.ply"], tmp_path / "out")
    assert [r["wearer"] for r in found.records] == ["c", "a", "b", "d", "missing"]
    assert [r["verdict"] for r in found.records] == ["warn", "refused", "fault", "warn", "refused"]
    assert "There is no face" in found.records[1]["reasons"][0]
    assert "ZeroDivisionError" in found.records[2]["reasons"][0]
    assert not found.all_made
    # A failed wearer leaves its record and nothing else; nothing half done stays.
    assert [p.name for p in (tmp_path / "out" / "a").iterdir()] == [RECORD]
    assert not list((tmp_path / "out").glob(".*"))


def test_tables_agree_and_are_the_same_every_time(tmp_path):
    scans = scans_of(tmp_path / "in", {"x.ply": "ok", "y.ply": "bad"})
    out = tmp_path / "out"
    text = refit_many(scans, Recipe(), out, by_content, 0)
    first = (out / "refit.json").read_bytes(), (out / "refit.csv").read_bytes()
    data = json.loads(first[0])
    assert data["verdicts"] == {"refused": 1, "warn": 1}
    rows = list(csv.DictReader(io.StringIO(first[1].decode())))
    assert [row["verdict"] for row in rows] == [w["verdict"] for w in data["wearers"]]
    assert rows[0]["width_mm"] == "15.5"
    # A spreadsheet must not take a text for a formula.
    assert rows[0]["note"] == "'=1+1"
    assert "x  WARN" in text and "There is no face" in text
    refit_many(scans, Recipe(), tmp_path / "again", by_content, 0)
    assert first[0] == (tmp_path / "again" / "refit.json").read_bytes()
    assert first[1] == (tmp_path / "again" / "refit.csv").read_bytes()


def test_finished_wearers_are_kept_until_scan_or_recipe_change(tmp_path):
    folder, out = tmp_path / "in", tmp_path / "out"
    scans = scans_of(folder, {"p.ply": "ok", "q.ply": "bad", "r.ply": "bug"})
    refit(scans, out)
    again = refit(scans, out)
    # A refusal is a result like any other; our own faults are tried again.
    assert again.kept == ("p", "q")
    assert calls(folder) == ["p.ply", "q.ply", "r.ply", "r.ply"]
    (folder / "p.ply").write_text("ok, rescanned")
    assert refit(scans, out).kept == ("q",)
    assert refit(scans, out, recipe=Recipe(title="Other")).kept == ()
    assert (out / "p" / "body.stl").read_text() == "Other for ok, rescanned"
    (out / "p" / RECORD).write_text("{ broken")
    assert valid_earlier_record(tasks_of(scans, Recipe(title="Other"), out)[0]) is None


def test_processes_give_the_same_table_as_one(tmp_path):
    words = {"a.ply": "ok", "b.ply": "bad", "c.ply": "bug", "d.ply": "ok too"}
    scans = scans_of(tmp_path / "in", words)
    refit(scans, tmp_path / "alone")
    steps: list[Step] = []
    run_to_end(refit_steps(scans, Recipe(), tmp_path / "many", by_content, 2), steps.append)
    assert (tmp_path / "alone" / "refit.csv").read_bytes() == (tmp_path / "many" / "refit.csv").read_bytes()
    assert len(steps) == 5 and steps[-1].fraction <= 1.0


def test_process_that_dies_takes_only_its_own_scan_along(tmp_path):
    scans = scans_of(tmp_path / "in", {"a.ply": "ok", "b.ply": "die", "c.ply": "ok", "d.ply": "ok"})
    found = refit(scans, tmp_path / "out", workers=2)
    assert [r["verdict"] for r in found.records] == ["warn", "fault", "warn", "warn"]
    assert "died" in found.records[1]["reasons"][0]


def test_killed_in_the_middle_and_taken_up_again(tmp_path):
    folder, out = tmp_path / "in", tmp_path / "out"
    scans = scans_of(folder, {"a.ply": "ok", "b.ply": "wait", "c.ply": "ok"})
    code = (
        "import sys; sys.path[:0] = sys.argv[1:3]\n"
        "from pathlib import Path\n"
        "from predict.makers import by_content\n"
        "from sealwright.recipe import Recipe\n"
        "from sealwright.jobs.refit import refit_many\n"
        "if __name__ == '__main__':\n"
        "    refit_many([Path(p) for p in sys.argv[4:]], Recipe(), Path(sys.argv[3]), by_content, 1)\n"
    )
    script = tmp_path / "run.py"
    script.write_text(code)
    paths = [str(ROOT / "tests" / "core"), str(ROOT / "core"), str(out), *map(str, scans)]
    run = subprocess.Popen([sys.executable, str(script), *paths])
    # b is at work and a is written down, in whichever order the two processes get to it.
    _until(lambda: len(calls(folder)) == 2 and '"a"' in _text(out / "refit.json"))
    run.send_signal(signal.SIGKILL)
    run.wait()
    worker = int((folder / "calls.log").read_text().split()[-1])
    _until(lambda: not _alive(worker))  # nobody works on behind our back
    assert (out / "a" / RECORD).is_file() and (out / "a" / "body.stl").is_file()
    assert not (out / "b").exists() and (out / ".b.partial").is_dir()
    assert [w["wearer"] for w in json.loads((out / "refit.json").read_text())["wearers"]] == ["a"]
    (folder / "go").write_text("")
    found = refit(scans, out)
    assert found.kept == ("a",) and found.all_made
    assert calls(folder) == ["a.ply", "b.ply", "b.ply", "c.ply"]
    assert not (out / ".b.partial").exists()


def _text(path: Path) -> str:
    return path.read_text() if path.is_file() else ""


def _until(holds, seconds: float = 60.0) -> None:
    end = time.monotonic() + seconds
    while not holds():
        assert time.monotonic() < end, "took too long"
        time.sleep(0.05)


def _alive(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    # A process nobody has waited for yet counts as gone.
    stat = Path(f"/proc/{pid}/stat")
    return not (stat.exists() and stat.read_text().rpartition(")")[2].split()[0] == "Z")


def test_equal_and_odd_names_get_folders_of_their_own(tmp_path):
    paths = [Path("x/Scan 1.ply"), Path("y/scan-1.stl"), Path("z/scan-1.obj"), Path("..ply"), Path("ä.ply")]
    names = [task.name for task in tasks_of(paths, Recipe(), tmp_path)]
    assert names == ["Scan-1", "scan-1-2", "scan-1-3", "scan", "ä"]


def test_foreign_folder_is_never_replaced(tmp_path):
    scans = scans_of(tmp_path / "in", {"a.ply": "ok"})
    foreign = tmp_path / "out" / "a"
    foreign.mkdir(parents=True)
    (foreign / "thesis.txt").write_text("years of work")
    found = refit(scans, tmp_path / "out")
    assert found.records[0]["verdict"] == "fault"
    assert (foreign / "thesis.txt").read_text() == "years of work"
    assert calls(tmp_path / "in") == []


def test_no_scans_and_wild_numbers_of_processes_are_refused(tmp_path):
    with pytest.raises(BadRecipe, match="0 scans"):
        refit([], tmp_path / "out")
    with pytest.raises(BadRecipe, match="processes"):
        refit([tmp_path / "a.ply"], tmp_path / "out", workers=999)
    assert not (tmp_path / "out").exists()
