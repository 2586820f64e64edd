"""What a list says of each scan, and one table for the folders of several refits."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from bare import bare_recipe
from sealwright.errors import BadRecipe
from sealwright.jobs.cli import main
from sealwright.jobs.refit import Work, refit_steps
from sealwright.jobs.refit_list import sources_of
from sealwright.jobs.source import Source
from sealwright.progress import run_to_end

from .makers import by_content

ROWS = [
    {"scan": "ana.ply", "wearer": "Ana", "unit": "m", "landmarks": "ana.json", "second_pose": "open.ply"},
    {
        "scan": "ben/scan.stl",
        "wearer": "Ben",
        "known_length_mm": 85.6,
        "between_first": [-1, 2, 3],
        "between_second": [4, 5.5, 6],
    },
    {"scan": "cleo.obj", "reference": "card", "reference_patch": "-1,2,3,60"},
]


def test_csv_and_json_say_the_same(tmp_path: Path) -> None:
    (tmp_path / "list.json").write_text(json.dumps(ROWS))
    (tmp_path / "list.csv").write_text(
        "\ufeffscan;wearer;unit;landmarks;known_length_mm;between_first;between_second;second_pose;reference;"
        "reference_patch\r\n"
        "ana.ply;Ana;m;ana.json;;;;open.ply;;\r\n"
        "ben/scan.stl;Ben;;;85.6;-1 2 3;4 5.5 6;;;\r\n"
        "cleo.obj;;;;;;;;card;-1 2 3 60\r\n",
        encoding="utf-8",
    )
    wanted = [
        Source(
            tmp_path / "ana.ply",
            "m",
            landmarks=tmp_path / "ana.json",
            second_pose=tmp_path / "open.ply",
            wearer="Ana",
        ),
        Source(tmp_path / "ben/scan.stl", "", 85.6, ((-1.0, 2.0, 3.0), (4.0, 5.5, 6.0)), wearer="Ben"),
        Source(tmp_path / "cleo.obj", reference="card", reference_patch="-1,2,3,60"),
    ]
    assert sources_of([], tmp_path / "list.json") == wanted
    assert sources_of([], tmp_path / "list.csv") == wanted
    more = sources_of([Path("dora.ply")], tmp_path / "list.csv", labels_from_names=True)
    assert [s.wearer for s in more] == ["Ana", "Ben", "cleo", "dora"]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ([{"scan": "a.ply", "weerer": "A"}], "unknown column 'weerer'"),
        ([{"wearer": "A"}], "names no scan"),
        ([{"scan": "a.ply", "unit": "ft"}], "unknown unit 'ft'"),
        ([{"scan": "a.ply", "known_length_mm": 80}], "together"),
        ([{**ROWS[1], "known_length_mm": 0}], "no length in mm"),
        ([{**ROWS[1], "between_first": "1 2"}], "not a point"),
        ([{**ROWS[2], "reference_patch": ""}], "reference and its patch together"),
        ([{"scan": "a.ply", "wearer": "x" * 99}], "label"),
        ([], "no rows"),
        ({"scan": "a.ply"}, "no rows"),
        ([1], "no rows"),
    ],
)
def test_bad_rows_are_named(rows: object, words: str, tmp_path: Path) -> None:
    (tmp_path / "list.json").write_text(json.dumps(rows))
    with pytest.raises(BadRecipe, match=words):
        sources_of([], tmp_path / "list.json")


def _refitted(place: Path, who: str, word: str) -> Path:
    place.mkdir(parents=True)
    (place / "scan.ply").write_text(word)
    source = Source(place / "scan.ply", wearer=who, date="2025-03-31")
    run_to_end(refit_steps([source], bare_recipe(), place / "out", Work(by_content, 0)))
    return place / "out"


def test_tables_of_several_machines_become_one(tmp_path: Path, capsys) -> None:
    first, second = _refitted(tmp_path / "one", "Ana", "ok"), _refitted(tmp_path / "two", "Ben", "bad")
    out = tmp_path / "all"
    assert main(["merge", str(first), str(second), "--out", str(out)]) == 0
    rows = json.loads((out / "merged.json").read_text())["wearers"]
    assert [(r["wearer"], r["verdict"]) for r in rows] == [("Ana", "warn"), ("Ben", "refused")]
    assert (Path(rows[0]["folder"]) / "body.stl").read_text().endswith("of Ana")
    assert (out / "merged.csv").read_text().splitlines()[1].startswith(str(first))
    assert "2 wearers: 1 refused, 1 warn." in capsys.readouterr().out


def test_one_scan_under_two_labels_is_not_merged(tmp_path: Path, capsys) -> None:
    first, second = _refitted(tmp_path / "one", "Ana", "ok"), _refitted(tmp_path / "two", "Ben", "ok")
    assert main(["merge", str(first), str(second), "--out", str(tmp_path / "all")]) == 2
    assert "two wearers: Ana and Ben" in capsys.readouterr().err
    assert not (tmp_path / "all").exists()
    (tmp_path / "empty").mkdir()
    assert main(["merge", str(first), str(tmp_path / "empty"), "--out", str(tmp_path / "all")]) == 2
    assert "holds no results" in capsys.readouterr().err


@pytest.mark.parametrize(("word", "code"), [("ok", 0), ("bad", 3), ("bug", 3)])
def test_exit_code_tells_whether_every_wearer_has_a_design(
    word: str, code: int, tmp_path: Path, monkeypatch, capsys
) -> None:
    monkeypatch.setattr("sealwright.jobs.refit_command.make_one", by_content)
    (tmp_path / "a.ply").write_text(word)
    (tmp_path / "b.ply").write_text("ok b")
    words = ["refit", str(tmp_path / "a.ply"), str(tmp_path / "b.ply"), "--labels-from-names"]
    assert main([*words, "--out", str(tmp_path / "out"), "--workers", "0", "--date", "2025-03-31"]) == code
    told = capsys.readouterr()
    assert "not a certified respirator" in told.out and "2 wearers:" in told.out
    assert "2 of 2: b (b.ply) warn" in told.err
