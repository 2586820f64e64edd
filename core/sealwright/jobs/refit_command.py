"""``refit`` and ``merge`` of the command line: progress, totals, cautions, and an exit code that tells."""

from __future__ import annotations

import argparse
import time
from dataclasses import replace

from ..errors import BadRecipe, Where
from ..export.atomic import write_files
from ..export.folder import require_writable
from ..progress import run_to_end
from ..recipe import Recipe
from .make import make_one
from .options import CAUTION
from .output import complain, on_terminal, say
from .refit import Work, refit_steps
from .refit_list import sources_of
from .refit_record import Record, records_in
from .refit_table import in_order, refuse_two_labels, table_csv, table_json, table_text
from .showing import run_showing
from .source import checked_day

SOME_NOT_MADE = 3
"""Exit code of a refit that ran to its end with at least one wearer that has no design."""


def refit(arguments: argparse.Namespace, recipe: Recipe) -> int:
    """Refit and tell: 0 when every wearer has a design, 3 when some were refused or failed."""
    sources = sources_of(arguments.scans, arguments.list, arguments.labels_from_names)
    if arguments.date:
        sources = [replace(source, date=checked_day(arguments.date)) for source in sources]
    how = Work(make_one, arguments.workers, not arguments.no_pictures)
    job = refit_steps(sources, recipe, arguments.out, how)
    begun = time.monotonic()
    if on_terminal():
        found = run_showing(job, "{desc:<60}|{bar}| {percentage:3.0f} %")
    else:
        found = run_to_end(job, lambda step: complain(step.label + "\n"))
    minutes = (time.monotonic() - begun) / 60.0
    taken = f"{len(found.kept)} taken over from an earlier run, {minutes:.1f} min. Table of all: "
    say(f"{CAUTION}\n\n{found.table}{taken}{arguments.out / 'refit.csv'}\n")
    return 0 if found.all_made else SOME_NOT_MADE


def merge(arguments: argparse.Namespace) -> int:
    """One table of the folders of several refits, as merged.json and merged.csv.

    Raises
    ------
    BadRecipe : no results in a folder, or one scan under two labels.
    """
    require_writable(arguments.out)
    records: list[Record] = []
    for folder in arguments.folders:
        there = records_in(folder)
        if not there:
            raise BadRecipe(
                f"The folder {folder.name or folder} holds no results of a refit.",
                Where("merge", key=str(folder)),
                "Give folders that were the --out of a refit.",
            )
        for name, record in there.items():
            record["folder"] = str(folder / name)
            records.append(record)
    refuse_two_labels(records)
    rows = in_order(records)
    tables = {"merged.json": table_json(rows), "merged.csv": table_csv(rows)}
    write_files({arguments.out / name: data for name, data in tables.items()})
    say(f"{CAUTION}\n\n{table_text(rows)}Table of all: {arguments.out / 'merged.csv'}\n")
    return 0
