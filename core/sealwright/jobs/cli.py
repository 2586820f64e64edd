"""The command line: the headless door to the same functions as the panels.

Exit code 0: done. 2: the input was refused, with what, where and how to mend it. 1: our fault.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from .. import __version__
from ..designing.prepared import Prepared
from ..errors import DesignError
from ..export.atomic import write_files
from ..facepiece.seal_line_proposal import seal_line
from ..progress import Job, Step
from ..recipe import Recipe, RecipeFile, read_recipe_file, recipe_schema
from ..trust.verdicts import seal_trust
from .cli_scan import scan_arguments, source_of
from .make import Source, make, make_one, prepare_source, write_made

CAUTION = (
    "A home-made mask is not a certified respirator. Never use it in oxygen-deficient or immediately "
    "dangerous air. It needs a fit test by a competent person, no beard under the seal, and skin-safe materials. "  # noqa: E501
    "Local codes and licensed practice decide."
)


def main(argv: Sequence[str] | None = None) -> int:
    """Run a command and give its exit code."""
    arguments = _parser().parse_args(argv)
    try:
        return int(arguments.run(arguments))
    except DesignError as refusal:
        sys.stderr.write(f"Refused ({refusal.code}). {refusal.paragraph()}\n")
        return 2
    except KeyboardInterrupt:
        sys.stderr.write("Stopped; nothing was written.\n")
        return 2


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser("sealwright", description="Mask bodies from face scans.", epilog=CAUTION)
    parser.add_argument("--version", action="version", version=f"sealwright {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    command = _command(commands, "make", _make, "design a mask and write its folder")
    scan_arguments(command)
    command.add_argument("--out", type=Path, required=True, help="folder to write")
    command.add_argument("--second-pose", type=Path, help="second scan of the wearer, such as mouth open")
    command.add_argument("--no-pictures", action="store_true", help="leave out the pictures")
    command = _command(commands, "check", _check, "design a mask and print its verdicts; write nothing")
    scan_arguments(command)
    command = _command(commands, "prepare", _prepare, "read a scan and print what was found; write nothing")
    scan_arguments(command)
    command = _command(commands, "refit", _refit, "the same recipe on many scans, resumable")
    command.add_argument("scans", type=Path, nargs="+", metavar="SCAN")
    command.add_argument("--recipe", type=Path, help="recipe file; the default recipe without it")
    command.add_argument("--out", type=Path, required=True, help="folder with one folder for each scan")
    command.add_argument("--workers", type=int, default=2, help="processes at a time")
    command = _command(commands, "improve", _improve, "search designs that press less at no worse leak")
    scan_arguments(command)
    command.add_argument("--out", type=Path, required=True, help="folder for the table and the recipes")
    command.add_argument("--evaluations", type=int, default=96, help="designs to try")
    command.add_argument("--seed", type=int, default=1, help="the same seed tries the same designs")
    command.add_argument("--vary", nargs="+", metavar="KEY", help="recipe keys to vary")
    command = _command(commands, "demo", _demo, "the main job on a demo scan")
    command.add_argument("--out", type=Path, default=Path("out/demo"), help="folder to write")
    command.add_argument("--wearer", default="Marlo", help="invented wearer of the demo scenes")
    command = _command(commands, "schema", _schema, "print a JSON schema")
    command.add_argument("which", choices=("recipe", "report"))
    return parser


def _command(commands: Any, name: str, run: Any, text: str) -> argparse.ArgumentParser:
    command: argparse.ArgumentParser = commands.add_parser(name, help=text, description=text, epilog=CAUTION)
    command.set_defaults(run=run)
    return command


def _recipe(arguments: argparse.Namespace) -> RecipeFile:
    """The recipe named, or the default one; what is to be told of its reading goes to the error stream."""
    read = read_recipe_file(arguments.recipe) if arguments.recipe else RecipeFile(Recipe())
    for remark in read.remarks:
        sys.stderr.write(f"Recipe, {remark.level}: {remark.text}\n")
    return read


def _make(arguments: argparse.Namespace) -> int:
    made = _shown(make(source_of(arguments), _recipe(arguments), not arguments.no_pictures))
    paths = write_made(made, arguments.out)
    _tell(made.report)
    sys.stdout.write(f"\n{len(paths)} files in {arguments.out}\n")
    return 0


def _check(arguments: argparse.Namespace) -> int:
    made = _shown(make(source_of(arguments), _recipe(arguments), pictures=False))
    _tell(made.report)
    return 0


def _prepare(arguments: argparse.Namespace) -> int:
    read = _recipe(arguments)
    recipe = read.recipe
    prepared = _shown(prepare_source(source_of(arguments), recipe))
    found = {
        "unit": prepared.unit,
        "mm_per_unit": prepared.mm_per_unit,
        "noise_mm": round(prepared.face.noise_mm, 3),
        "reference": {n: v for n, v in prepared.facts.items() if n.startswith("reference")},
        "landmarks_mm": {n: [round(float(c), 2) for c in p] for n, p in sorted(prepared.landmarks.items())},
        "confidence": {n: round(c, 2) for n, c in sorted(prepared.confidence.items())},
        "seal": _trust_told(prepared, recipe),
        "remarks": [r.text for r in (*read.remarks, *prepared.remarks)],
        "scan_to_design": prepared.scan_to_design.tolist(),
    }
    sys.stdout.write(json.dumps(found, indent=2) + "\n")
    return 0


def _trust_told(prepared: Prepared, recipe: Recipe) -> dict[str, str]:
    """By sector of the seal line: good, doubtful or rescan, and why; or why there is no such line."""
    try:
        inner_mm = recipe.band.inner_mm
        line = seal_line(prepared.face, prepared.landmarks, recipe.seal_line, 320, inner_mm)
    except DesignError as refusal:
        return {"refused": refusal.paragraph()}
    sectors = seal_trust(prepared, line, recipe.band).sectors
    said = {s.sector: " ".join(reason.text for reason in s.reasons) for s in sectors}
    return {s.sector: f"{s.verdict}: {said[s.sector]}" if said[s.sector] else s.verdict for s in sectors}


def _refit(arguments: argparse.Namespace) -> int:
    from .refit import refit_many

    table = refit_many(arguments.scans, _recipe(arguments).recipe, arguments.out, make_one, arguments.workers)
    sys.stdout.write(table)
    return 0


def _improve(arguments: argparse.Namespace) -> int:
    from ..search.evaluator import ImproveSettings
    from ..search.improve import improve_design_steps
    from ..search.improve_files import improve_files, improve_text

    recipe = _recipe(arguments).recipe
    prepared = _shown(prepare_source(source_of(arguments), recipe))
    usual = ImproveSettings()
    search = replace(usual.search, evaluations=arguments.evaluations, seed=arguments.seed)
    found = _shown(improve_design_steps(prepared, recipe, replace(usual, search=search), keys=arguments.vary))
    write_files({arguments.out / name: data for name, data in improve_files(found).items()})
    sys.stdout.write(CAUTION + "\n\n" + improve_text(found))
    return 0


def _demo(arguments: argparse.Namespace) -> int:
    from .demo import write_demo_scan

    scan, marks = write_demo_scan(arguments.wearer, arguments.out)
    sys.stdout.write(f"Demo scan of the invented wearer {arguments.wearer}: {scan}\n")
    sys.stdout.write(f"Corners of the mouth, set by hand as a maker would: {marks}\n")
    made = _shown(make(Source(scan, landmarks=marks), Recipe()))
    write_made(made, arguments.out)
    _tell(made.report)
    sys.stdout.write(f"\nOpen {arguments.out / 'fit-report.html'} in a browser.\n")
    return 0


def _schema(arguments: argparse.Namespace) -> int:
    from ..report.schema import report_schema

    schema = recipe_schema() if arguments.which == "recipe" else report_schema()
    sys.stdout.write(json.dumps(schema, indent=2) + "\n")
    return 0


def _tell(report: dict[str, Any]) -> None:
    """The cautions, the verdicts and the remarks of a report in plain words."""
    lines = [CAUTION, ""]
    lines += [line for verdict in report["verdicts"] for line in verdict_lines(verdict)]
    lines += ["", report["summary"]["headline"]]
    lines += [f"  {number}. {text}" for number, text in enumerate(report["summary"]["do_first"], start=1)]
    sys.stdout.write("\n".join(lines) + "\n")


def verdict_lines(verdict: Mapping[str, Any]) -> tuple[str, str]:
    """One verdict of a report for reading: verdict, value and limit, and below them the reason."""
    head = f"{verdict['verdict'].upper():>5}  {verdict['topic']}: {verdict['value_text']}"
    return f"{head} ({verdict['limit_text']}).", f"       {verdict['reason']}"


def _shown(job: Job[Any]) -> Any:
    """Run a job with a progress bar on a terminal."""
    from tqdm import tqdm

    bar = tqdm(total=100, bar_format="{desc:<42}|{bar}| {percentage:3.0f} %", disable=not sys.stderr.isatty())
    with bar:
        while True:
            try:
                step: Step = next(job)
            except StopIteration as done:
                bar.update(100 - bar.n)
                return done.value
            bar.set_description_str(step.label)
            bar.update(max(100 * step.fraction - bar.n, 0))


if __name__ == "__main__":
    raise SystemExit(main())
