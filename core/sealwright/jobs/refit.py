"""The same recipe on many scans, in parallel processes; resumable, and no scan can stop the others."""

from __future__ import annotations

import multiprocessing
import re
import shutil
import time
from collections.abc import Generator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from ..errors import BadRecipe, DesignError, Where
from ..export.atomic import made_folders, write_files
from ..export.folder import require_writable
from ..export.identity import Identity
from ..export.lock import folder_lock
from ..parallel import end_with_parent
from ..progress import Job, Step
from ..recipe import Recipe, recipe_to_json
from .refit_record import Record, holds, record_key, records_in
from .refit_table import (
    in_order,
    name_of,
    refuse_two_labels,
    refuse_two_ways,
    table_csv,
    table_json,
    table_text,
)
from .refit_work import (
    MakeOne,
    Task,
    blank_record,
    make_wearer,
    process_died_record,
    recovered,
    refused,
)
from .source import Source, identity_of, recipe_hash, today

MOST_WORKERS = 64


@dataclass(frozen=True)
class Refit:
    """The outcome.

    Attributes
    ----------
    records : one for each scan, in the order given.
    kept : folders taken over from an earlier run.
    table : the table of this run for reading.
    """

    records: tuple[Record, ...]
    kept: tuple[str, ...]
    table: str

    @property
    def all_made(self) -> bool:
        """Whether every wearer has a design, whatever its verdict."""
        return all(record["state"] == "made" for record in self.records)


@dataclass(frozen=True)
class Work:
    """How a refit is done.

    Attributes
    ----------
    make_one : see `refit_work.MakeOne`; a function of a module, so that other processes can import it.
    workers : processes at a time; 0 works in this process.
    pictures : whether pictures are made.
    """

    make_one: MakeOne
    workers: int = 2
    pictures: bool = True


def refit_steps(sources: Sequence[Source], recipe: Recipe, out_dir: Path, how: Work) -> Job[Refit]:
    """Make every scan with one recipe, as a job of steps.

    Results are known by their content: scan, recipe and label. Each gets a folder in ``out_dir`` that appears
    only when it is complete. What an earlier run has finished is taken over, whatever the scan file is called
    now. ``refit.json`` and ``refit.csv`` list every folder there, also of other runs, and are written anew
    after every wearer, so that a killed run leaves a true table. One run at a time works in a folder.

    Raises
    ------
    BadRecipe : no scans, a number of workers out of range, or one scan under two labels.
    UnwritableFile : the folder is in use or cannot be written to.
    """
    if not sources or not 0 <= how.workers <= MOST_WORKERS:
        raise BadRecipe(
            f"There are {len(sources)} scans for {how.workers} processes.",
            Where("refit", key="scans" if not sources else "workers"),
            f"Give at least one scan, and 0 to {MOST_WORKERS} processes.",
        )
    require_writable(out_dir)
    yield Step(0.0, "Looking for finished wearers")
    tasks, unread = tasks_of(sources, recipe, out_dir, how.pictures)
    new = made_folders(out_dir)
    try:
        with folder_lock(out_dir):
            return (yield from _refitted(tasks, unread, out_dir, how))
    finally:
        for folder in reversed(new):
            with suppress(OSError):  # it holds results
                folder.rmdir()


def _refitted(tasks: dict[int, Task], unread: dict[int, Record], out_dir: Path, how: Work) -> Job[Refit]:
    """A refit whose folder is locked; tasks and refusals by their place in the order given."""
    recovered(out_dir)
    there = records_in(out_dir)
    wanted = [blank_record(task) for task in tasks.values()]
    refuse_two_ways(wanted)
    refuse_two_labels([*there.values(), *wanted])
    # One design is worked on once, however often it was given.
    single = {task.key: task for task in tasks.values()}
    found: dict[str, Record] = {}
    for key, task in single.items():
        record = there.get(task.folder.name)
        same = record is not None and record["key"] == key
        if record is not None and same and holds(record, task.identity.as_dict(), task.pictures):
            found[key] = record
    kept = tuple(record["folder"] for record in found.values())
    left = [task for key, task in single.items() if key not in found]
    _write_table(there, found, out_dir)
    begun = time.monotonic()
    rounds = _in_this_process(left, how) if how.workers == 0 else _in_processes(left, how)
    for done, record in enumerate(rounds, start=1):
        found[record["key"]] = record
        _write_table(there, found, out_dir)
        text = f"{len(found)} of {len(single)}: {name_of(record)} {record['verdict']}"
        yield Step(len(found) / (len(single) + 1), text + _left(begun, done, len(left) - done))
    _write_table(there, found, out_dir)
    order = sorted([*tasks, *unread])
    records = tuple(unread[n] if n in unread else found[tasks[n].key] for n in order)
    return Refit(records, kept, table_text(records))


def _left(begun: float, done: int, waiting: int) -> str:
    """How long the rest takes at the speed so far."""
    minutes = (time.monotonic() - begun) / done * waiting / 60.0
    return "" if waiting == 0 else f", {'under a minute' if minutes < 1 else f'{minutes:.0f} min'} left"


def tasks_of(
    sources: Sequence[Source], recipe: Recipe, out_dir: Path, pictures: bool = True
) -> tuple[dict[int, Task], dict[int, Record]]:
    """Tasks with folders of their own, and records of what cannot be read, by place in the order given."""
    text = recipe_to_json(recipe)
    tasks: dict[int, Task] = {}
    unread: dict[int, Record] = {}
    for number, source in enumerate(sources):
        try:
            identity = identity_of(source, recipe)
        except DesignError as refusal:
            told = Identity(source.wearer, source.path.name, recipe_sha256=recipe_hash(recipe), date=today())
            found = refused(refusal)
            unread[number] = {
                "key": "",
                "folder": "",
                "identity": told.as_dict(),
                "files": {},
                "state": found["state"],
                "verdict": found["verdict"],
                "reasons": found["reasons"],
                "values": found["values"],
                "error": refusal.as_dict(),
            }
            continue
        dated = replace(source, date=identity.date)
        folder = Path(out_dir) / folder_name(identity)
        tasks[number] = Task(dated, identity, folder, text, pictures)
    return tasks, unread


def folder_name(identity: Identity) -> str:
    """Label and ten digits of the key: two designs never share a folder, and a renamed scan keeps its own."""
    slug = re.sub(r"[^\w-]+", "-", identity.wearer).strip("-")[:40].strip("-") or "wearer"
    return f"{slug}-{record_key(identity.as_dict())[:10]}"


def _write_table(there: dict[str, Record], found: dict[str, Record], out_dir: Path) -> None:
    """The table of all folders: those that were there, and those of this run in their place."""
    rows = dict(there)
    for record in found.values():
        # What could not be stored has no folder; an earlier result in its place is still there.
        rows[record["folder"] or record["key"]] = record
    records = in_order(rows.values())
    write_files({out_dir / "refit.json": table_json(records), out_dir / "refit.csv": table_csv(records)})


def _in_this_process(tasks: Sequence[Task], how: Work) -> Generator[Record, None, None]:
    for task in tasks:
        yield make_wearer(task, how.make_one)


def _in_processes(tasks: Sequence[Task], how: Work) -> Generator[Record, None, None]:
    """Records as they come. When a process dies, the wearers that were in work are each tried alone."""
    left = list(tasks)
    while left:
        lost = yield from _pool(left, how.make_one, how.workers)
        # Wearers are started in order, so only the first of those left over can have been in work.
        suspects, left = lost[: how.workers], lost[how.workers :]
        for task in suspects:
            if (yield from _pool([task], how.make_one, 1)):
                yield process_died_record(task)


def _pool(tasks: Sequence[Task], make_one: MakeOne, workers: int) -> Generator[Record, None, list[Task]]:
    """Records of the wearers done in a pool; returns those left over when one of its processes died."""
    lost: list[Task] = []
    context = multiprocessing.get_context("spawn")  # no half-copied threads and locks
    pool = ProcessPoolExecutor(min(workers, max(len(tasks), 1)), context, end_with_parent)
    try:
        # Futures come back in any order; the table keeps an order of its own.
        waiting: dict[Future[Record], Task] = {
            pool.submit(make_wearer, task, make_one): task for task in tasks
        }
        while waiting:
            done, _ = wait(waiting, return_when=FIRST_COMPLETED)
            for future in done:
                task = waiting.pop(future)
                try:
                    yield future.result()
                except BrokenProcessPool:
                    lost.append(task)
        pool.shutdown(wait=not lost, cancel_futures=True)
    except BaseException:  # stopped: nobody works on
        for process in multiprocessing.active_children():
            process.kill()
        pool.shutdown(wait=False, cancel_futures=True)
        for task in tasks:
            shutil.rmtree(task.partial, ignore_errors=True)
        raise
    return sorted(lost, key=list(tasks).index)
