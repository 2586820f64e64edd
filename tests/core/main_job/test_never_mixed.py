"""Any sequence of make, refit, kill, rename and full disk: no part under a wrong wearer, no table that lies.

Designs are tiny and made at the file layer; the folders, lists, records, locks and tables are the real ones.
Every part says in its own bytes whose it is and of which scan and recipe, so that what a folder or a table
claims can be held against the parts themselves.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import re
import shutil
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from bare import bare_recipe
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule
from sealwright.errors import DesignError
from sealwright.export import atomic
from sealwright.export.folder import MANIFEST, read_manifest, write_folder
from sealwright.jobs.refit import Work, refit_steps
from sealwright.jobs.refit_record import read_record
from sealwright.jobs.source import Source, identity_of
from sealwright.progress import run_to_end
from sealwright.recipe import Recipe

pytestmark = pytest.mark.heavy

PEOPLE = ("Ana", "Ben", "Cleo")
RECIPES = (bare_recipe(), bare_recipe(title="Other"))


class Killed(BaseException):
    """The process is gone: nothing after it runs, not even clearing up."""


def parts_of(source: Source, recipe: Recipe) -> dict[str, bytes]:
    """A tiny design: every part names wearer, scan and recipe."""
    told = identity_of(source, recipe)
    mark = f"{told.wearer}|{told.scan_sha256}|{told.recipe_sha256}"
    names = ["body.stl", "holder.stl"] + (["ring.stl"] if recipe.title == "Other" else [])
    return {name: f"{name}|{mark}".encode() for name in [*names, "pictures/worn.png"]}


def tiny(source: Source, recipe: Recipe, out: Path, pictures: bool) -> dict[str, Any]:
    """Stand-in for `make_one` that writes a tiny design."""
    identity = identity_of(source, recipe)
    write_folder(out, parts_of(source, recipe), identity)
    return {"identity": identity.as_dict(), "summary": {"verdict": "warn", "do_first": []}}


class Trouble:
    """Counts every change on the disk, and after so many of them kills the process or fills the disk."""

    def __init__(self, after: int, full: bool) -> None:
        self.left, self.full, self.real = after, full, {}

    def __enter__(self) -> None:
        for name in ("replace", "fsync", "rename", "mkdir", "unlink"):
            self.real[name] = getattr(os, name)
            setattr(os, name, self._wrapped(name))
        self.undo, self.rmtree = atomic.Stage.undo, shutil.rmtree
        if not self.full:  # the dead clear nothing up

            def undo(stage: atomic.Stage) -> None:
                if self.left > 0:
                    self.undo(stage)

            atomic.Stage.undo = undo  # type: ignore[method-assign]
            shutil.rmtree = self._rmtree  # type: ignore[assignment]

    def _rmtree(self, *words: Any, **more: Any) -> None:
        if self.left > 0:
            self.rmtree(*words, **more)

    def _wrapped(self, name: str) -> Any:
        def call(*words: Any, **more: Any) -> Any:
            self.left -= 1
            if self.left <= 0 and not (self.full and name in ("unlink", "rename", "replace")):
                if self.full:
                    raise OSError(errno.ENOSPC, "No space left on device")
                raise Killed
            return self.real[name](*words, **more)

        return call

    def __exit__(self, *_: object) -> None:
        for name, function in self.real.items():
            setattr(os, name, function)
        atomic.Stage.undo, shutil.rmtree = self.undo, self.rmtree  # type: ignore[method-assign]


class Maker(RuleBasedStateMachine):
    """A maker with three people, careless file names, one folder for single masks and one for refits."""

    @initialize()
    def begin(self) -> None:
        self.place = Path(tempfile.mkdtemp(prefix="maker-"))
        self.scans = {who: self.place / who / "scan.ply" for who in PEOPLE}
        for who, path in self.scans.items():
            path.parent.mkdir()
            path.write_text(f"scan of {who}")
        self.single, self.many = self.place / "single", self.place / "many"
        self.mine: dict[Path, str] = {}

    def teardown(self) -> None:
        shutil.rmtree(self.place, ignore_errors=True)

    def _source(self, who: str) -> Source:
        return Source(self.scans[who], wearer=who, date="2025-03-31")

    @rule(who=st.sampled_from(PEOPLE), recipe=st.sampled_from(RECIPES), asked=st.booleans())
    def make(self, who: str, recipe: Recipe, asked: bool) -> None:
        source = self._source(who)
        with suppress(DesignError):
            write_folder(self.single, parts_of(source, recipe), identity_of(source, recipe), asked)

    @rule(
        who=st.sampled_from(PEOPLE),
        recipe=st.sampled_from(RECIPES),
        after=st.integers(1, 25),
        full=st.booleans(),
    )
    def make_in_trouble(self, who: str, recipe: Recipe, after: int, full: bool) -> None:
        source = self._source(who)
        files, identity = parts_of(source, recipe), identity_of(source, recipe)
        with suppress(DesignError, Killed), Trouble(after, full):
            write_folder(self.single, files, identity, replace=True)

    @rule(people=st.sets(st.sampled_from(PEOPLE), min_size=1), recipe=st.sampled_from(RECIPES))
    def refit(self, people: set[str], recipe: Recipe) -> None:
        sources = [self._source(who) for who in sorted(people)]
        found = run_to_end(refit_steps(sources, recipe, self.many, Work(tiny, 0)))
        # Whoever has no mask now is told so, and only a folder that was changed by hand stands in the way.
        for record in found.records:
            if record["state"] != "made":
                assert self.mine, record["reasons"]

    @rule(
        people=st.sets(st.sampled_from(PEOPLE), min_size=1),
        recipe=st.sampled_from(RECIPES),
        after=st.integers(1, 60),
        full=st.booleans(),
    )
    def refit_in_trouble(self, people: set[str], recipe: Recipe, after: int, full: bool) -> None:
        sources = [self._source(who) for who in sorted(people)]
        with suppress(DesignError, Killed, OSError), Trouble(after, full):
            run_to_end(refit_steps(sources, recipe, self.many, Work(tiny, 0)))

    @rule(who=st.sampled_from(PEOPLE), again=st.booleans())
    def rescan(self, who: str, again: bool) -> None:
        self.scans[who].write_text(f"scan of {who}" + (" again" if again else ""))

    @rule(who=st.sampled_from(PEOPLE), name=st.sampled_from(("scan.ply", "a.ply", "Ana.ply", "Ben.ply")))
    def rename_scan(self, who: str, name: str) -> None:
        new = self.scans[who].with_name(name)
        self.scans[who].rename(new)
        self.scans[who] = new

    @rule(number=st.integers(0, 9), name=st.sampled_from(("Ana-0123456789", "Ben-0123456789", "holiday")))
    def rename_folder(self, number: int, name: str) -> None:
        folders = self._folders()
        if folders and not (self.many / name).exists():
            folders[number % len(folders)].rename(self.many / name)
            self.mine[self.many / name] = ""

    @rule(number=st.integers(0, 9))
    def put_something_beside(self, number: int) -> None:
        folders = [*self._folders(), *([self.single] if self.single.is_dir() else [])]
        if folders:
            note = folders[number % len(folders)] / "note.txt"
            note.write_text("years of work")
            self.mine[note] = "years of work"

    def _folders(self) -> list[Path]:
        there = sorted(self.many.iterdir()) if self.many.is_dir() else []
        return [p for p in there if p.is_dir() and not p.name.startswith(".")]

    @invariant()
    def no_part_stands_under_the_wrong_wearer(self) -> None:
        if not hasattr(self, "place"):
            return
        if self.single.is_dir() and (known := read_manifest(self.single)) is not None:
            marks = {_mark(p) for p in self.single.rglob("*") if _is_part(p)}
            if known.whole:
                assert marks == {_wanted(known.identity)}
            for path in self.single.rglob("*"):  # unfinished or not, the list knows every part by its hash
                if _is_part(path):
                    name = path.relative_to(self.single).as_posix()
                    assert hashlib.sha256(path.read_bytes()).hexdigest() in known.files[name]
        elif self.single.is_dir():
            assert not [p for p in self.single.rglob("*") if _is_part(p)]
        for folder in self._folders():
            record = read_record(folder)
            parts = [p for p in folder.rglob("*") if _is_part(p)]
            assert not parts or record is not None
            if record is not None:
                assert {_mark(p) for p in parts} <= {_wanted(record["identity"])}
                assert record["state"] == "made" or not parts

    @invariant()
    def no_table_lies(self) -> None:
        if not hasattr(self, "place") or not (self.many / "refit.json").is_file():
            return
        rows = json.loads((self.many / "refit.json").read_text())["wearers"]
        listed = {row["folder"]: row for row in rows if row["folder"]}
        assert len(listed) == len([row for row in rows if row["folder"]])
        for name, row in listed.items():
            folder = self.many / name
            if row["state"] != "made" or not folder.is_dir():
                continue  # renamed or cut since: the next run says so
            for part in (p for p in folder.rglob("*") if _is_part(p)):
                assert _mark(part) == _wanted(row)

    @invariant()
    def what_is_not_ours_stays(self) -> None:
        for path, content in getattr(self, "mine", {}).items():
            # A note goes along with a folder that the maker renames.
            if content and path.parent.is_dir() and path.exists():
                assert path.read_text() == content
        if hasattr(self, "place"):
            notes = [p for p in self.place.rglob("note.txt") if p.read_text() == "years of work"]
            assert len(notes) >= (1 if any(self.mine.values()) else 0)

    @rule()
    def look_at_the_table_after_a_whole_run(self) -> None:
        """After a run without trouble the table lists every folder, and vouches for exactly the unchanged."""
        run_to_end(refit_steps([self._source("Ana")], RECIPES[0], self.many, Work(tiny, 0)))
        rows = json.loads((self.many / "refit.json").read_text())["wearers"]
        with_folder = {row["folder"]: row for row in rows if row["folder"]}
        known = {p.name for p in self._folders() if read_record(p) is not None}
        assert set(with_folder) == known
        for name, row in with_folder.items():
            true = read_record(self.many / name)
            assert true is not None
            strange = true["folder"] != name or (self.many / name / "note.txt").exists()
            assert (row["state"] == "changed") == strange
        assert not [p for p in self.many.iterdir() if p.name.startswith(".")]


def _is_part(path: Path) -> bool:
    return path.is_file() and path.suffix in (".stl", ".png") and not path.name.startswith(".")


def _mark(path: Path) -> str:
    """Wearer, scan and recipe, as the part itself says."""
    return re.sub(r"^[^|]*\|", "", path.read_text())


def _wanted(told: Any) -> str:
    return f"{told['wearer']}|{told['scan_sha256']}|{told['recipe_sha256']}"


EXAMPLES = int(os.environ.get("SEALWRIGHT_EXAMPLES", "12"))
"""More in long runs."""

Maker.TestCase.settings = settings(
    max_examples=EXAMPLES, stateful_step_count=18, deadline=None, suppress_health_check=list(HealthCheck)
)
TestMaker = Maker.TestCase

__all__ = ["MANIFEST", "TestMaker"]
