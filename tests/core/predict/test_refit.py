"""Many scans with one recipe: whose is whose, resuming after a kill, and failing scans that stop nobody."""

from __future__ import annotations

import csv
import io
import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from bare import bare_recipe
from sealwright.errors import BadRecipe, UnwritableFile
from sealwright.export.lock import folder_lock
from sealwright.jobs.refit import Refit, Work, refit_steps, tasks_of
from sealwright.jobs.refit_record import RECORD, read_record, records_in
from sealwright.jobs.source import Source
from sealwright.progress import Step, run_to_end
from trials.places import ROOT

from .makers import by_content


def scans_of(folder: Path, words: dict[str, str], labelled: bool = True) -> list[Source]:
    """A file for each word; the label is the first letter of its name in capitals, unless told otherwise."""
    folder.mkdir(exist_ok=True, parents=True)
    for name, word in words.items():
        (folder / name).write_text(word)
    return [Source(folder / n, wearer=n[0].upper() if labelled else "", date="2025-03-31") for n in words]


def calls(folder: Path) -> list[str]:
    log = folder / "calls.log"
    return [line.split()[0] for line in log.read_text().splitlines()] if log.exists() else []


def refit(sources, out, workers=0, recipe=None, pictures=True) -> Refit:
    return run_to_end(refit_steps(sources, recipe or bare_recipe(), out, Work(by_content, workers, pictures)))


def table(out: Path) -> list[dict]:
    return json.loads((out / "refit.json").read_text())["wearers"]


def folder_of(out: Path, label: str) -> Path:
    (found,) = [p for p in out.iterdir() if p.name.startswith(f"{label}-")]
    return found


def test_one_bad_scan_and_one_bug_stop_nobody(tmp_path):
    sources = scans_of(tmp_path / "in", {"c.ply": "ok", "a.ply": "bad", "b.ply": "bug", "d.ply": "fine"})
    missing = Source(tmp_path / "in" / "missing.ply", wearer="M")
    out = tmp_path / "out"
    found = refit([*sources, missing], out)
    assert [r["identity"]["wearer"] for r in found.records] == ["C", "A", "B", "D", "M"]
    assert [r["verdict"] for r in found.records] == ["warn", "refused", "fault", "warn", "refused"]
    assert "There is no face" in found.records[1]["reasons"][0]
    assert "ZeroDivisionError" in found.records[2]["reasons"][0]
    assert not found.all_made
    # A failed wearer leaves its record and nothing else; nothing half done stays.
    assert [p.name for p in folder_of(out, "A").iterdir()] == [RECORD]
    assert not list(out.glob(".*"))


def test_scans_of_one_name_never_replace_each_other(tmp_path):
    """Phones call every export "scan": two people, one file name, one folder for the results."""
    (monday,) = scans_of(tmp_path / "mon", {"scan.ply": "ok"})
    (tuesday,) = scans_of(tmp_path / "tue", {"scan.ply": "also ok"})
    monday, tuesday = replace(monday, wearer="Ana"), replace(tuesday, wearer="Ben")
    out = tmp_path / "out"
    refit([monday], out)
    before = (folder_of(out, "Ana") / "body.stl").read_bytes()
    found = refit([tuesday], out)
    assert found.all_made and found.kept == ()
    assert (folder_of(out, "Ana") / "body.stl").read_bytes() == before == b"Dust half mask for ok of Ana"
    assert (folder_of(out, "Ben") / "body.stl").read_bytes() == b"Dust half mask for also ok of Ben"
    assert [(r["wearer"], r["scan_name"]) for r in table(out)] == [("Ana", "scan.ply"), ("Ben", "scan.ply")]


def test_table_lists_all_runs_and_tells_scan_recipe_and_design(tmp_path):
    sources = scans_of(tmp_path / "in", {"x.ply": "ok", "y.ply": "bad"})
    out = tmp_path / "out"
    first = refit(sources[:1], out)
    second = refit(sources[1:], out, recipe=bare_recipe(title="Other"))
    rows = table(out)
    assert [r["wearer"] for r in rows] == ["X", "Y"]
    assert len({r["recipe_sha256"] for r in rows}) == 2 and len({r["design_id"] for r in rows}) == 2
    assert all(r["date"] == "2025-03-31" and r["version"] and len(r["scan_sha256"]) == 64 for r in rows)
    data = json.loads((out / "refit.json").read_text())
    assert data["verdicts"] == {"refused": 1, "warn": 1} and len(data["cautions"]) >= 8
    lines = list(csv.DictReader(io.StringIO((out / "refit.csv").read_text())))
    assert [line["verdict"] for line in lines] == ["warn", "refused"]
    assert lines[0]["width_mm"] == "15.5" and lines[0]["folder"] == folder_of(out, "X").name
    # A spreadsheet must not take a text for a formula.
    assert lines[0]["note"] == "'=1+1"
    assert "X (x.ply)  WARN" in first.table and "There is no face" in second.table
    # The table does not depend on the order of the runs.
    again = tmp_path / "again"
    refit(sources[1:], again, recipe=bare_recipe(title="Other"))
    refit(sources[:1], again)
    assert (out / "refit.csv").read_bytes() == (again / "refit.csv").read_bytes()
    assert (out / "refit.json").read_bytes() == (again / "refit.json").read_bytes()


def test_finished_wearers_are_kept_until_scan_recipe_or_options_change(tmp_path):
    folder, out = tmp_path / "in", tmp_path / "out"
    sources = scans_of(folder, {"p.ply": "ok", "q.ply": "bad", "r.ply": "bug"})
    refit(sources, out)
    again = refit(sources, out)
    # A refusal is a result like any other; our own faults are tried again.
    assert sorted(name[0] for name in again.kept) == ["P", "Q"]
    assert calls(folder) == ["p.ply", "q.ply", "r.ply", "r.ply"]
    (folder / "p.ply").rename(folder / "renamed.ply")
    renamed = replace(sources[0], path=folder / "renamed.ply")
    assert [n[0] for n in refit([renamed], out).kept] == ["P"]
    assert refit([replace(renamed, unit="cm")], out).kept == ()
    assert refit([renamed], out, recipe=bare_recipe(title="Other")).kept == ()
    assert {p.name[0] for p in out.iterdir() if p.is_dir()} == {"P", "Q", "R"}
    assert len([p for p in out.iterdir() if p.name.startswith("P-")]) == 2  # one folder for each recipe


def test_passing_failure_is_tried_again(tmp_path):
    folder, out = tmp_path / "in", tmp_path / "out"
    (source,) = scans_of(folder, {"a.ply": "full"})
    assert refit([source], out).records[0]["verdict"] == "refused"
    (folder / "freed").touch()
    found = refit([source], out)
    assert found.all_made and found.kept == ()
    assert [r["verdict"] for r in table(out)] == ["warn"]


def test_pictures_are_made_later_when_they_are_wanted(tmp_path):
    (source,) = scans_of(tmp_path / "in", {"a.ply": "ok"})
    out = tmp_path / "out"
    refit([source], out, pictures=False)
    assert not (folder_of(out, "A") / "pictures").exists()
    assert len(refit([source], out, pictures=False).kept) == 1
    assert refit([source], out).kept == ()
    assert (folder_of(out, "A") / "pictures" / "worn.png").is_file()
    assert len(refit([source], out, pictures=False).kept) == 1  # more than was asked for


def test_one_scan_under_two_labels_is_refused_in_one_run_and_across_runs(tmp_path):
    (source,) = scans_of(tmp_path / "in", {"a.ply": "ok"})
    out = tmp_path / "out"
    with pytest.raises(BadRecipe, match="two wearers: A and B"):
        refit([source, replace(source, wearer="B")], out)
    assert not out.exists() and calls(tmp_path / "in") == []
    refit([source], out)
    with pytest.raises(BadRecipe, match="two wearers: A and B"):
        refit([replace(source, wearer="B")], out)
    with pytest.raises(BadRecipe, match="given twice with different options"):
        refit([source, replace(source, unit="in")], tmp_path / "other")
    assert [r["wearer"] for r in table(out)] == ["A"]
    # The same again is no contradiction, and is worked on once.
    assert len(refit([source, source], tmp_path / "third").records) == 2
    assert calls(tmp_path / "in") == ["a.ply", "a.ply"]


def test_scan_that_changes_while_it_is_in_work_is_refused(tmp_path):
    (source,) = scans_of(tmp_path / "in", {"a.ply": "swapped"})
    found = refit([source], tmp_path / "out")
    assert found.records[0]["verdict"] == "refused" and "changed while" in found.records[0]["reasons"][0]
    assert not list((tmp_path / "out").rglob("body.stl"))


def test_changed_and_renamed_folders_are_not_vouched_for_and_never_replaced(tmp_path):
    sources = scans_of(tmp_path / "in", {"a.ply": "ok", "b.ply": "ok b", "c.ply": "ok c"})
    out = tmp_path / "out"
    refit(sources, out)
    (folder_of(out, "A") / "body.stl").write_text("filed down by hand")
    folder_of(out, "B").rename(out / "D-0123456789")
    (folder_of(out, "C") / "notes.txt").write_text("years of work")
    found = refit(sources, out)
    assert found.kept == ()
    told = {r["folder"][0]: (r["verdict"], " ".join(r["reasons"])) for r in table(out) if r["folder"]}
    assert told["A"][0] == told["C"][0] == told["D"][0] == "changed" and told["B"][0] == "warn"
    assert "changed: body.stl" in told["A"][1] and "foreign: notes.txt" in told["C"][1]
    assert "was called B-" in told["D"][1]
    assert (folder_of(out, "A") / "body.stl").read_text() == "filed down by hand"
    assert (folder_of(out, "C") / "notes.txt").read_text() == "years of work"
    verdicts = {r["identity"]["wearer"]: r["verdict"] for r in found.records}
    assert verdicts == {"A": "refused", "B": "warn", "C": "refused"}


def test_processes_give_the_same_table_as_one(tmp_path):
    words = {"a.ply": "ok", "b.ply": "bad", "d.ply": "ok too"}
    sources = scans_of(tmp_path / "in", words)
    refit(sources, tmp_path / "alone")
    steps: list[Step] = []
    how = Work(by_content, 2)
    run_to_end(refit_steps(sources, bare_recipe(), tmp_path / "many", how), steps.append)
    assert (tmp_path / "alone" / "refit.csv").read_bytes() == (tmp_path / "many" / "refit.csv").read_bytes()
    assert len(steps) == 4 and steps[-1].fraction <= 1.0
    assert "left" in steps[1].label and "left" not in steps[-1].label and "3 of 3" in steps[-1].label


def test_process_that_dies_takes_only_its_own_scan_along(tmp_path):
    words = {"a.ply": "ok", "b.ply": "die", "c.ply": "ok c", "d.ply": "ok d"}
    found = refit(scans_of(tmp_path / "in", words), tmp_path / "out", workers=2)
    assert [r["verdict"] for r in found.records] == ["warn", "fault", "warn", "warn"]
    assert "died" in found.records[1]["reasons"][0]


def test_second_run_in_the_same_folder_is_refused_until_the_first_has_ended(tmp_path):
    (source,) = scans_of(tmp_path / "in", {"a.ply": "ok"})
    out = tmp_path / "out"
    out.mkdir()
    with folder_lock(out), pytest.raises(UnwritableFile, match="Another run"):
        refit([source], out)
    assert calls(tmp_path / "in") == [] and list(out.iterdir()) == []
    assert refit([source], out).all_made


def test_killed_in_the_middle_and_taken_up_again(tmp_path):
    folder, out = tmp_path / "in", tmp_path / "out"
    sources = scans_of(folder, {"a.ply": "ok", "b.ply": "wait", "c.ply": "ok c"})
    code = (
        "import sys; sys.path[:0] = sys.argv[1:3]\n"
        "from pathlib import Path\n"
        "from predict.makers import by_content\n"
        "from sealwright.jobs.refit import Work\n"
        "from to_the_end import refit_many\n"
        "from sealwright.jobs.source import Source\n"
        "from bare import bare_recipe\n"
        "if __name__ == '__main__':\n"
        "    paths = [Path(p) for p in sys.argv[4:]]\n"
        "    sources = [Source(p, wearer=p.name[0].upper(), date='2025-03-31') for p in paths]\n"
        "    refit_many(sources, bare_recipe(), Path(sys.argv[3]), Work(by_content, 1))\n"
    )
    script = tmp_path / "run.py"
    script.write_text(code)
    paths = [str(ROOT / "tests" / "core"), str(ROOT / "core"), str(out), *(str(s.path) for s in sources)]
    run = subprocess.Popen([sys.executable, str(script), *paths])
    # b is at work and a is written down, in whichever order the two processes get to it.
    _until(lambda: len(calls(folder)) == 2 and '"A"' in _text(out / "refit.json"))
    run.send_signal(signal.SIGKILL)
    run.wait()
    worker = int((folder / "calls.log").read_text().split()[-1])
    _until(lambda: not _alive(worker))  # nobody works on behind our back
    assert read_record(folder_of(out, "A")) is not None and (folder_of(out, "A") / "body.stl").is_file()
    assert len(list(out.glob(".B-*.partial"))) == 1 and set(records_in(out)) == {folder_of(out, "A").name}
    assert [w["wearer"] for w in table(out)] == ["A"]
    (folder / "go").write_text("")
    found = refit(sources, out)
    assert found.kept == (folder_of(out, "A").name,) and found.all_made
    assert calls(folder) == ["a.ply", "b.ply", "b.ply", "c.ply"]
    assert not list(out.glob(".*"))  # no unfinished folder, no lock


def test_cut_between_two_names_loses_nothing(tmp_path):
    """Killed after the old folder was moved away and before the new one came: the old one comes back."""
    (source,) = scans_of(tmp_path / "in", {"a.ply": "ok"})
    out = tmp_path / "out"
    refit([source], out)
    (task,) = tasks_of([source], bare_recipe(), out)[0].values()
    task.folder.rename(task.old)
    task.partial.mkdir()
    assert len(refit([source], out).kept) == 1
    assert read_record(task.folder) is not None and not list(out.glob(".*"))


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


def test_odd_labels_get_folders_of_their_own(tmp_path):
    sources = scans_of(tmp_path / "in", {f"{n}.ply": f"ok {n}" for n in range(5)})
    labels = ["Ana B.", "ana-b", "../../etc", "ä" * 60, ""]
    named = [replace(s, wearer=label) for s, label in zip(sources, labels, strict=True)]
    found = refit(named, tmp_path / "out")
    names = [r["folder"] for r in found.records]
    assert [n.rsplit("-", 1)[0] for n in names] == ["Ana-B", "ana-b", "etc", "ä" * 40, "wearer"]
    assert len({n.casefold() for n in names}) == 5
    assert sorted(p.name for p in tmp_path.iterdir()) == ["in", "out"]


def test_foreign_folder_is_never_replaced(tmp_path):
    (source,) = scans_of(tmp_path / "in", {"a.ply": "ok"})
    (task,) = tasks_of([source], bare_recipe(), tmp_path / "out")[0].values()
    task.folder.mkdir(parents=True)
    (task.folder / "thesis.txt").write_text("years of work")
    found = refit([source], tmp_path / "out")
    assert found.records[0]["verdict"] == "refused" and "holds things" in found.records[0]["reasons"][0]
    assert (task.folder / "thesis.txt").read_text() == "years of work"
    assert calls(tmp_path / "in") == []


def test_no_scans_and_wild_numbers_of_processes_are_refused(tmp_path):
    with pytest.raises(BadRecipe, match="0 scans"):
        refit([], tmp_path / "out")
    with pytest.raises(BadRecipe, match="processes"):
        refit([Source(tmp_path / "a.ply")], tmp_path / "out", workers=999)
    assert not (tmp_path / "out").exists()
