"""The same recipe on many scans, in parallel processes; resumable, and no scan can stop the others."""

from __future__ import annotations

import multiprocessing
import re
from collections.abc import Callable, Generator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..errors import BadRecipe, Where
from ..export.atomic import write_files
from ..progress import Job, Step, run_to_end
from ..recipe import Recipe, recipe_to_json
from .refit_table import table_csv, table_json, table_text
from .refit_work import MakeOne, Task, exit_when_parent_dies, process_died_record, valid_earlier_record, work

MOST_WORKERS = 64


@dataclass(frozen=True)
class Refit:
    """The outcome.

    Attributes
    ----------
    records : one for each scan, in the order given.
    kept : wearers taken over from an earlier run.
    table : the table for reading.
    """

    records: tuple[dict[str, Any], ...]
    kept: tuple[str, ...]
    table: str

    @property
    def all_made(self) -> bool:
        """Whether every wearer has a design, whatever its verdict."""
        return all(record["state"] == "made" for record in self.records)


def refit_many(
    scans: Sequence[Path],
    recipe: Recipe,
    out_dir: Path,
    make_one: MakeOne,
    workers: int = 2,
    tell: Callable[[Step], None] | None = None,
) -> str:
    """Refit to the end and give the table for reading; see `refit_steps`."""
    return run_to_end(refit_steps(scans, recipe, out_dir, make_one, workers), tell).table


def refit_steps(
    scans: Sequence[Path], recipe: Recipe, out_dir: Path, make_one: MakeOne, workers: int = 2
) -> Job[Refit]:
    """Make every scan with one recipe, as a job of steps.

    Each wearer gets a folder in ``out_dir``, which appears only when it is complete. Wearers that an earlier
    run has finished with the same scan, recipe and version are taken over. ``refit.json`` and ``refit.csv``
    are written anew after every wearer, so that a killed run leaves a true table.

    Parameters
    ----------
    scans : scan files; folders are named after them.
    recipe : the recipe.
    out_dir : where the folders and the table go.
    make_one : see `refit_work.MakeOne`; a function of a module, so that other processes can import it.
    workers : processes at a time; 0 works in this process.

    Raises
    ------
    BadRecipe : no scans, or a number of workers out of range.
    UnwritableFile : the table cannot be written.
    """
    if not scans or not 0 <= workers <= MOST_WORKERS:
        raise BadRecipe(
            f"There are {len(scans)} scans for {workers} processes.",
            Where("refit", key="scans" if not scans else "workers"),
            f"Give at least one scan, and 0 to {MOST_WORKERS} processes.",
        )
    tasks = tasks_of(scans, recipe, out_dir)
    yield Step(0.0, "Looking for finished wearers")
    found = {task.name: record for task in tasks if (record := valid_earlier_record(task)) is not None}
    kept = tuple(found)
    left = [task for task in tasks if task.name not in found]
    _write_table(tasks, found, out_dir)
    rounds = _in_this_process(left, make_one) if workers == 0 else _in_processes(left, make_one, workers)
    for record in rounds:
        found[record["wearer"]] = record
        _write_table(tasks, found, out_dir)
        yield Step(len(found) / (len(tasks) + 1), f"{len(found)} of {len(tasks)}: {record['wearer']}")
    records = tuple(found[task.name] for task in tasks)
    return Refit(records, kept, table_text(records))


def tasks_of(scans: Sequence[Path], recipe: Recipe, out_dir: Path) -> list[Task]:
    """Wearers with folder names of their own, from the scans' names; a name used twice gets a number."""
    text = recipe_to_json(recipe)
    used = {"refit.json", "refit.csv"}
    tasks = []
    for scan in map(Path, scans):
        stem = re.sub(r"[^\w.-]+", "-", scan.stem).strip(".-") or "scan"
        name, number = stem, 2
        # Some file systems take capitals for small letters.
        while name.casefold() in used:
            name, number = f"{stem}-{number}", number + 1
        used.add(name.casefold())
        tasks.append(Task(name, scan, Path(out_dir) / name, text))
    return tasks


def _write_table(tasks: Sequence[Task], found: dict[str, dict[str, Any]], out_dir: Path) -> None:
    records = [found[task.name] for task in tasks if task.name in found]
    folder = Path(out_dir)
    write_files({folder / "refit.json": table_json(records), folder / "refit.csv": table_csv(records)})


def _in_this_process(tasks: Sequence[Task], make_one: MakeOne) -> Generator[dict[str, Any], None, None]:
    for task in tasks:
        yield work(task, make_one)


def _in_processes(
    tasks: Sequence[Task], make_one: MakeOne, workers: int
) -> Generator[dict[str, Any], None, None]:
    """Records as they come. When a process dies, the wearers that were in work are each tried alone."""
    left = list(tasks)
    while left:
        lost = yield from _pool(left, make_one, workers)
        # Wearers are started in order, so only the first of those left over can have been in work.
        suspects, left = lost[:workers], lost[workers:]
        for task in suspects:
            if (yield from _pool([task], make_one, 1)):
                yield process_died_record(task)


def _pool(
    tasks: Sequence[Task], make_one: MakeOne, workers: int
) -> Generator[dict[str, Any], None, list[Task]]:
    """Records of the wearers done in a pool; returns those left over when one of its processes died."""
    lost: list[Task] = []
    context = multiprocessing.get_context("spawn")  # no half-copied threads and locks
    pool = ProcessPoolExecutor(min(workers, max(len(tasks), 1)), context, exit_when_parent_dies)
    try:
        # Futures come back in any order; the table keeps the order of the scans.
        waiting: dict[Future[dict[str, Any]], Task] = {
            pool.submit(work, task, make_one): task for task in tasks
        }
        while waiting:
            done, _ = wait(waiting, return_when=FIRST_COMPLETED)
            for future in done:
                task = waiting.pop(future)
                try:
                    yield future.result()
                except BrokenProcessPool:
                    lost.append(task)
    finally:
        pool.shutdown(wait=not lost, cancel_futures=True)
    return sorted(lost, key=list(tasks).index)
