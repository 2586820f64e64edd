"""The folder of a design: two designs never mix, and nothing is deleted that is not known by its hash."""

from __future__ import annotations

import hashlib
import json
import os
import stat
from dataclasses import replace
from pathlib import Path

import pytest
from sealwright.errors import BadRecipe, UnwritableFile
from sealwright.export import atomic
from sealwright.export.folder import MANIFEST, Share, holds, read_manifest, require_writable, write_folder
from sealwright.export.identity import Identity, checked_label
from sealwright.export.lock import folder_lock
from sealwright.export.shield import RUN, run_token, shielded

ANA = Identity("Ana", "scan.ply", "a" * 64, "o" * 64, "r" * 64, "1", "2025-03-31")
BEN = replace(ANA, wearer="Ben", scan_sha256="b" * 64)
FILES = {"body.stl": b"body of Ana", "mask.3mf": b"parts of Ana", "pictures/worn.png": b"Ana"}
OTHER = {"body.stl": b"body of Ben", "fit-report.json": b"{}"}


def content(folder: Path) -> dict[str, bytes]:
    """All files but the list."""
    return {
        p.relative_to(folder).as_posix(): p.read_bytes()
        for p in folder.rglob("*")
        if p.is_file() and p.name != MANIFEST
    }


def test_list_names_every_file_with_its_hash_and_whose_it_is(tmp_path: Path) -> None:
    out = tmp_path / "deep" / "out"
    write_folder(out, FILES, ANA)
    assert content(out) == FILES
    told = json.loads((out / MANIFEST).read_text())
    assert told["state"] == "whole"
    assert told["identity"]["wearer"] == "Ana" and told["identity"]["date"] == "2025-03-31"
    assert told["files"] == {name: [hashlib.sha256(data).hexdigest()] for name, data in FILES.items()}
    assert sorted(p.name for p in out.parent.iterdir()) == ["out"]


def test_another_design_is_refused_and_replaced_only_when_asked(tmp_path: Path) -> None:
    out = tmp_path / "out"
    write_folder(out, FILES, ANA)
    (out / "notes.txt").write_text("mine")
    with pytest.raises(
        UnwritableFile, match=r"another design \(wearer Ana, scan scan\.ply, made 2025-03-31\)"
    ):
        write_folder(out, OTHER, BEN)
    assert content(out) == {**FILES, "notes.txt": b"mine"}
    write_folder(out, OTHER, BEN, replace=True)
    assert content(out) == {**OTHER, "notes.txt": b"mine"}  # also the empty folder of pictures went
    assert not (out / "pictures").exists()
    assert read_manifest(out).identity["wearer"] == "Ben"  # type: ignore[union-attr]


@pytest.mark.parametrize("field", ["wearer", "scan_sha256", "options_sha256", "recipe_sha256"])
def test_each_of_wearer_scan_options_and_recipe_makes_another_design(field: str, tmp_path: Path) -> None:
    write_folder(tmp_path / "out", FILES, ANA)
    with pytest.raises(UnwritableFile, match="another design"):
        write_folder(tmp_path / "out", FILES, replace(ANA, **{field: "other"}))
    newer = replace(ANA, version="2", date="2026-01-01", scan_name="renamed.ply")
    write_folder(tmp_path / "out", OTHER, newer)  # the same design made again
    assert content(tmp_path / "out") == OTHER
    assert len({ANA.design_id, replace(ANA, **{field: "other"}).design_id, newer.design_id}) == 3


@pytest.mark.parametrize("asked", [False, True])
def test_changed_and_foreign_files_are_never_touched(asked: bool, tmp_path: Path) -> None:
    out = tmp_path / "out"
    write_folder(out, FILES, ANA)
    (out / "body.stl").write_bytes(b"filed down")
    with pytest.raises(UnwritableFile, match=r"body\.stl was changed"):
        write_folder(out, OTHER, ANA, asked)
    foreign = tmp_path / "foreign"
    foreign.mkdir()
    (foreign / "retainer.stl").write_bytes(b"of somebody")
    with pytest.raises(UnwritableFile, match=r"retainer\.stl was not made"):
        write_folder(foreign, OTHER, ANA, asked)
    assert content(out)["body.stl"] == b"filed down" and content(foreign) == {"retainer.stl": b"of somebody"}
    named = tmp_path / "named"
    named.mkdir()
    (named / "fit-report.json").write_bytes(b"of another program")
    with pytest.raises(UnwritableFile, match=r"fit-report\.json was not made"):
        write_folder(named, OTHER, ANA, asked)
    assert content(named) == {"fit-report.json": b"of another program"}


def test_scan_may_lie_in_the_folder(tmp_path: Path) -> None:
    scan = tmp_path / "scan.stl"
    scan.write_bytes(b"solid")
    write_folder(tmp_path, FILES, ANA, scan=scan)
    assert content(tmp_path) == {**FILES, "scan.stl": b"solid"}


@pytest.mark.parametrize("name", ["../victim.txt", "/etc/hostname", "a\\..\\b", "C:x", "link/victim.txt"])
def test_a_list_that_leads_out_of_the_folder_deletes_nothing(name: str, tmp_path: Path) -> None:
    victim = tmp_path / "victim.txt"
    victim.write_bytes(b"precious")
    out = tmp_path / "out"
    write_folder(out, FILES, ANA)
    (out / "link").symlink_to(tmp_path, target_is_directory=True)
    told = json.loads((out / MANIFEST).read_text())
    told["files"][name] = [hashlib.sha256(b"precious").hexdigest()]
    (out / MANIFEST).write_text(json.dumps(told))
    with pytest.raises(UnwritableFile, match="cannot be read"):
        write_folder(out, OTHER, BEN, replace=True)
    assert victim.read_bytes() == b"precious" and content(out)["body.stl"] == FILES["body.stl"]


@pytest.mark.parametrize("text", ["", "{", "[]", "{}", '{"format": 1, "files": {}, "identity": {}}'])
def test_unreadable_list_is_refused(text: str, tmp_path: Path) -> None:
    out = tmp_path / "out"
    write_folder(out, FILES, ANA)
    (out / MANIFEST).write_text(text)
    with pytest.raises(UnwritableFile, match="nobody knows whose"):
        write_folder(out, OTHER, BEN, replace=True)
    assert content(out) == FILES


def test_cut_while_names_change_leaves_a_list_that_knows_both(tmp_path: Path, monkeypatch) -> None:
    """Power lost after the second name: the next run sees it is unfinished and clears no more than that."""
    out = tmp_path / "out"
    write_folder(out, FILES, ANA)
    (out / "notes.txt").write_text("mine")

    class Cut(BaseException):
        pass

    done = []

    def cut(source: object, target: object) -> None:
        if len(done) == 2:
            raise Cut
        done.append(target)
        Path(source).rename(target)  # type: ignore[arg-type]

    monkeypatch.setattr(atomic.os, "replace", cut)
    monkeypatch.setattr(atomic.Stage, "undo", lambda self: None)
    with pytest.raises(Cut):
        write_folder(out, OTHER, BEN, replace=True)
    monkeypatch.undo()
    known = read_manifest(out)
    assert known is not None and not known.whole and set(known.files) == {*FILES, *OTHER}
    write_folder(out, FILES, ANA, replace=True)
    left = {n: d for n, d in content(out).items() if not n.endswith(".part")}
    assert left == {**FILES, "notes.txt": b"mine"} and read_manifest(out).whole  # type: ignore[union-attr]


def test_leftover_of_a_killed_run_never_gets_into_a_new_folder(tmp_path: Path) -> None:
    stage = tmp_path / f".{run_token()}.part"
    stage.mkdir()
    (stage / "ring.stl").write_bytes(b"ring of Ben")
    write_folder(tmp_path / "out", FILES, ANA)
    assert content(tmp_path / "out") == FILES


def test_full_disk_leaves_the_old_design_whole(tmp_path: Path, monkeypatch) -> None:
    out = tmp_path / "out"
    write_folder(out, FILES, ANA)
    before = {p: p.read_bytes() for p in out.rglob("*") if p.is_file()}
    real = os.fsync
    count = []

    def full(handle: int) -> None:
        count.append(handle)
        if len(count) == 3:
            raise OSError(28, "No space left on device")
        real(handle)

    monkeypatch.setattr(atomic.os, "fsync", full)
    with pytest.raises(UnwritableFile, match="No space left"):
        write_folder(out, OTHER, BEN, replace=True)
    assert {p: p.read_bytes() for p in out.rglob("*") if p.is_file()} == before
    count.clear()
    with pytest.raises(UnwritableFile, match="No space left"):
        write_folder(tmp_path / "a" / "new", FILES, ANA)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["out"]


def test_two_runs_do_not_write_at_once(tmp_path: Path) -> None:
    out = tmp_path / "out"
    write_folder(out, FILES, ANA)
    with folder_lock(out), pytest.raises(UnwritableFile, match="Another run"):
        write_folder(out, OTHER, ANA)
    assert content(out) == FILES
    write_folder(out, OTHER, ANA)
    assert not list(out.glob(".*"))


@pytest.mark.skipif(os.name == "nt", reason="Windows has no umask")
@pytest.mark.parametrize(("mask", "rights"), [(0o022, 0o644), (0o077, 0o600), (0o002, 0o664)])
def test_rights_follow_the_umask(mask: int, rights: int, tmp_path: Path) -> None:
    before = os.umask(mask)
    try:
        paths = write_folder(tmp_path / "out", FILES, ANA)
    finally:
        os.umask(before)
    assert {stat.S_IMODE(p.stat().st_mode) for p in paths} == {rights}


def test_folder_is_looked_at_before_any_work(tmp_path: Path) -> None:
    file = tmp_path / "file"
    file.write_text("in the way")
    for folder in (file, file / "below"):
        with pytest.raises(UnwritableFile, match="is a file"):
            require_writable(folder)
    require_writable(tmp_path / "new" / "deep")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["file"]


def test_key_press_while_names_change_comes_too_late(tmp_path: Path, monkeypatch) -> None:
    import signal

    monkeypatch.setenv(RUN, "w1-2")
    with shielded(tmp_path):
        assert [p.name for p in tmp_path.iterdir()] == [".w1-2.commit"]
        signal.raise_signal(signal.SIGINT)
        with shielded(tmp_path):
            pass
        assert len(list(tmp_path.iterdir())) == 1
    assert list(tmp_path.iterdir()) == []
    with pytest.raises(KeyboardInterrupt):
        signal.raise_signal(signal.SIGINT)


def test_labels_are_plain_and_short() -> None:
    assert checked_label("  Ana\t B. ") == "Ana B."
    for bad in ("x" * 81, "a\x00b", "a\ud800", "a\u202eb"):
        with pytest.raises(BadRecipe, match="label"):
            checked_label(bad)


PARTS, REST = {"body.stl": b"body of Ana", "mask.3mf": b"parts of Ana"}, {"fit-report.json": b"{}"}


def test_parts_come_first_and_are_not_touched_when_the_rest_joins_them(tmp_path: Path) -> None:
    out = tmp_path / "out"
    write_folder(out, FILES, ANA)  # an earlier version of the same design, with pictures
    newer = replace(ANA, version="2")
    assert not holds(out, PARTS, newer)
    write_folder(out, PARTS, newer, share=Share(state="parts"))
    assert content(out) == PARTS and read_manifest(out).state == "parts"  # type: ignore[union-attr]
    assert holds(out, PARTS, newer) and not holds(out, OTHER, newer)
    before = {name: (out / name).stat().st_ino for name in PARTS}
    paths = write_folder(out, {**PARTS, **REST}, newer)
    assert {p.name for p in paths} == {*PARTS, *REST, MANIFEST}
    assert {name: (out / name).stat().st_ino for name in PARTS} == before
    assert content(out) == {**PARTS, **REST} and read_manifest(out).whole  # type: ignore[union-attr]


@pytest.mark.parametrize("state", ["whole", "parts"])
def test_a_share_stays_beside_what_is_there_of_the_very_same_design_only(state: str, tmp_path: Path) -> None:
    out, some = tmp_path / "out", Share(keep=True)
    write_folder(out, PARTS, ANA, share=Share(state=state))
    write_folder(out, REST, ANA, share=some)
    assert content(out) == {**PARTS, **REST}
    told = json.loads((out / MANIFEST).read_text())
    assert set(told["files"]) == {*PARTS, *REST} and told["state"] == "whole"
    with pytest.raises(UnwritableFile, match="another design"):
        write_folder(out, OTHER, BEN, share=some)
    write_folder(out, {"fit-report.json": b"[]"}, replace(ANA, version="2"), share=some)
    assert content(out) == {"fit-report.json": b"[]"}  # parts of another version do not stay


def test_parts_changed_between_the_two_writings_are_refused(tmp_path: Path) -> None:
    out = tmp_path / "out"
    write_folder(out, PARTS, ANA, share=Share(state="parts"))
    (out / "body.stl").write_bytes(b"sanded")
    with pytest.raises(UnwritableFile, match="was changed after it was made"):
        write_folder(out, {**PARTS, **REST}, ANA)
    assert content(out) == {**PARTS, "body.stl": b"sanded"}
