"""The commands: the headless door to the same functions as the panels."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path

from ..designing.context import QUALITIES
from ..designing.design import Design
from ..designing.prepared import Prepared
from ..designing.sketch import sketch
from ..errors import DesignError, UnwritableFile, Where
from ..export.atomic import write_files
from ..export.folder import require_free_folder, require_writable
from ..facepiece.chamber_cage import cage_of
from ..facepiece.line_on_skin import LineAsked, line_on_skin
from ..facepiece.seal_line import SealLine
from ..own_shapes.cage_file import cage_json, read_form
from ..progress import Job
from ..recipe import Recipe, RecipeFile, read_recipe_file, recipe_schema, with_values
from ..report.sections.parts import reference_numbers
from ..report.shape import FitReport, ReportAims, ReportAimsRows, ReportTried, ReportVerdicts
from ..trust.verdicts import seal_trust
from ..verdicts.judge import judge
from ..verdicts.measure import measured_of
from ..verdicts.rules_wearer import WEARER_RULES
from .examining import examination
from .make import make, prepare_source
from .make_folder import Place, Wanted, Written, folder_steps
from .options import CAUTION
from .output import complain, on_terminal, say
from .refusal_file import REFUSAL, clear_refusal, picture_of_refusal
from .scan_options import source_of
from .showing import run_showing
from .source import identity_of


def recipe_of(arguments: argparse.Namespace) -> RecipeFile:
    """The recipe named, or the default one; what is to be told of its reading goes to the error stream."""
    if arguments.recipe is None:
        return RecipeFile(Recipe())
    read = read_recipe_file(arguments.recipe)
    for remark in read.remarks:
        complain(f"Recipe, {remark.level}: {remark.text}\n")
    return read


def _make(arguments: argparse.Namespace) -> int:
    require_writable(arguments.out)
    return _written(arguments, recipe_of(arguments))


def _shell(arguments: argparse.Namespace) -> int:
    require_writable(arguments.out)
    return _written(arguments, own_recipe(arguments, "shell"))


def _trim(arguments: argparse.Namespace) -> int:
    require_writable(arguments.out)
    return _written(arguments, own_recipe(arguments, "trim"))


def _cage(arguments: argparse.Namespace) -> int:
    read = recipe_of(arguments)
    prepared = run_showing(prepare_source(source_of(arguments), read.recipe))
    design = sketch(prepared, read.recipe)
    if design.shape is None:
        raise TypeError("a sketch has a shape")
    cage = cage_of(design.shape.wall, read.recipe.chamber.wall_mm)
    write_files({arguments.out: cage_json(cage).encode()})
    stations, rows = cage.points.shape[:2]
    say(f"A cage of {stations} by {rows - 1} quads, in the frame of the design: {arguments.out}\n")
    return 0


def own_recipe(arguments: argparse.Namespace, kind: str) -> RecipeFile:
    """The recipe named, as one of a shape of the maker's own; without one the default, uncushioned."""
    read = recipe_of(arguments)
    recipe = replace(read.recipe, kind=kind)
    if arguments.recipe is None:
        recipe = replace(with_values(recipe, {"cushion.kind": "none"}), title=kind.capitalize())
    return replace(read, recipe=recipe)


def _written(arguments: argparse.Namespace, recipe: RecipeFile) -> int:
    """Make a folder and write it, all or nothing."""
    source = source_of(arguments)
    require_free_folder(arguments.out, identity_of(source, recipe.recipe), arguments.replace, source.path)
    groups = frozenset(arguments.only) - ({"pictures"} if arguments.no_pictures else set())
    wanted = Wanted(groups, small=not arguments.no_pictures)
    place = Place(arguments.out, arguments.replace, source.path, partial(_parts_told, arguments.out))
    with picture_of_refusal(None if arguments.no_pictures else arguments.out):
        written = run_showing(folder_steps(source, recipe, wanted, place))
    clear_refusal(arguments.out)
    told = _not_judged(written) if written.report is None else report_text(written.report)
    say(told + f"\n{written.files} files in {arguments.out}\n")
    if arguments.timings:
        say("".join(f"{seconds:8.2f} s  {name}\n" for name, seconds in written.seconds.items()))
    return 0


def _parts_told(folder: Path, count: int) -> None:
    """Say that the parts can be taken."""
    begin = "\n" if on_terminal() else ""
    say(f"{begin}The parts are whole in {folder} ({count} files); report and pictures follow.\n")


def _not_judged(written: Written) -> str:
    """What is said where no report was asked for."""
    whose = written.identity
    return (
        f"{CAUTION}\n\nWearer: {whose.shown_wearer}. Scan: {whose.scan_name}. Design: {whose.design_id}.\n"
        "Not judged: no report was asked for. Ask for it (--only report) and read it before you print or "
        "wear anything.\n"
    )


def _check(arguments: argparse.Namespace) -> int:
    made = run_showing(make(source_of(arguments), recipe_of(arguments), pictures=False))
    return _printed(report_text(made.report))


def _prepare(arguments: argparse.Namespace) -> int:
    if arguments.out is not None:
        require_writable(arguments.out)
    read = recipe_of(arguments)
    recipe = read.recipe
    with picture_of_refusal(arguments.out):
        prepared = run_showing(prepare_source(source_of(arguments), recipe))
    seal, pictures = _trust_in_words(prepared, recipe), {}
    if arguments.out is not None:
        pictures = _prepared_pictures(prepared, recipe)
    found = {
        "unit": prepared.unit,
        "mm_per_unit": prepared.mm_per_unit,
        "noise_mm": round(prepared.face.noise_mm, 3),
        "reference": reference_numbers(prepared) if prepared.reference is not None else {},
        "landmarks_mm": {n: [round(float(c), 2) for c in p] for n, p in sorted(prepared.landmarks.items())},
        "confidence": {n: round(c, 2) for n, c in sorted(prepared.confidence.items())},
        "wearer": _wearer_in_words(prepared),
        "seal": seal,
        "remarks": [r.text for r in (*read.remarks, *prepared.remarks)],
        "scan_to_design": prepared.scan_to_design.tolist(),
    }
    text = json.dumps(found, indent=2) + "\n"
    if arguments.out is not None:
        write_files({arguments.out / name: data for name, data in pictures.items()})
        if REFUSAL not in pictures:
            clear_refusal(arguments.out)
    return _printed(text)


def _prepared_pictures(prepared: Prepared, recipe: Recipe) -> dict[str, bytes]:
    """What the scan covers, and where skin is missing for any seal line."""
    from ..report.coverage import coverage_pictures
    from ..report.refusal_picture import picture_on_face

    pictures = coverage_pictures(prepared, recipe)
    try:
        _line_of(prepared, recipe)
    except DesignError as refusal:
        drawn = picture_on_face(prepared, refusal)
        pictures |= {REFUSAL: drawn} if drawn is not None else {}
    return pictures


def _line_of(prepared: Prepared, recipe: Recipe) -> SealLine:
    """The seal line that a design of this scan would take."""
    asked = LineAsked(recipe.seal_line, QUALITIES["final"].stations, recipe.band.reach)
    return line_on_skin(prepared.face, prepared.landmarks, asked)


def _wearer_in_words(prepared: Prepared) -> dict[str, str]:
    """What cannot be right about the scan, by the keys of the verdicts."""
    found = judge(measured_of(Design(recipe=Recipe(), prepared=prepared)), WEARER_RULES)
    return {v.key: f"{v.verdict}: {v.reason} {v.fix}".strip() for v in found}


def _trust_in_words(prepared: Prepared, recipe: Recipe) -> dict[str, str]:
    """By sector of the seal line: good, doubtful or rescan, and why; or why there is no such line."""
    try:
        line = _line_of(prepared, recipe)
    except DesignError as refusal:
        return {"refused": refusal.paragraph()}
    sectors = seal_trust(prepared, line, recipe.band).sectors
    said = {s.sector: " ".join(reason.text for reason in s.reasons) for s in sectors}
    return {s.sector: f"{s.verdict}: {said[s.sector]}" if said[s.sector] else s.verdict for s in sectors}


def _refit(arguments: argparse.Namespace) -> int:
    from .refit_command import refit

    return refit(arguments, recipe_of(arguments).recipe)


def _merge(arguments: argparse.Namespace) -> int:
    from .refit_command import merge

    return merge(arguments)


def _improve(arguments: argparse.Namespace) -> int:
    from ..report.page.trade_off import trade_off_page
    from ..search.evaluator import ImproveSettings
    from ..search.improve import improve_design_steps
    from ..search.improve_files import improve_files, improve_text

    require_writable(arguments.out)
    recipe = recipe_of(arguments).recipe
    prepared = run_showing(prepare_source(source_of(arguments), recipe))
    given = {"evaluations": arguments.evaluations, "seed": arguments.seed}
    said = {name: number for name, number in given.items() if number is not None}
    usual = ImproveSettings()
    chosen = replace(usual, search=replace(usual.search, **said), workers=arguments.workers)
    form = None if arguments.chamber is None else read_form(arguments.chamber)
    steps = improve_design_steps(prepared, recipe, chosen, None, arguments.vary, examination, form)
    found = run_showing(steps)
    files = {**improve_files(found), "improve.html": trade_off_page(found, arguments.scan.name).encode()}
    write_files({arguments.out / name: data for name, data in files.items()})
    say(CAUTION + "\n\n" + improve_text(found))
    return 0


def _demo(arguments: argparse.Namespace) -> int:
    from .demo import demo_steps

    require_writable(arguments.out)
    pictures = not arguments.no_pictures
    made, scan = run_showing(demo_steps(arguments.wearer, arguments.out, arguments.replace, pictures))
    say(
        f"Demo scan of the invented wearer {arguments.wearer}: {scan}\n"
        f"Corners of the mouth were set by hand, as a maker would.\n{report_text(made.report)}\n"
        f"Open {arguments.out / 'fit-report.html'} in a browser.\n"
    )
    return 0


def _schema(arguments: argparse.Namespace) -> int:
    from ..physics.fit_test_json import fit_test_schema
    from ..report.schema import report_schema

    schemas = {"recipe": recipe_schema, "report": report_schema, "fit-test": fit_test_schema}
    return _printed(json.dumps(schemas[arguments.which](), indent=2) + "\n")


def _completion(arguments: argparse.Namespace) -> int:
    from .completion import completion

    return _printed(completion(arguments.shell))


def _printed(text: str) -> int:
    """Print what is the only result of a command.

    Raises
    ------
    UnwritableFile : the output is closed or full.
    """
    if not say(text):
        raise UnwritableFile(
            "The output cannot be written: it is closed or full.",
            Where("standard output"),
            "Send it to a screen, or to a file on a disk with room.",
        )
    return 0


def report_text(report: FitReport) -> str:
    """The cautions, whose design it is, the verdicts and what to do first, in plain words."""
    lines = [CAUTION, ""]
    identity = report["identity"]
    if identity is not None:
        wearer = identity["wearer"] or "not named (say --wearer LABEL)"
        lines += [f"Wearer: {wearer}. Scan: {identity['scan_name']}. Design: {identity['design_id']}.", ""]
    lines += [line for verdict in report["verdicts"] for line in verdict_lines(verdict)]
    lines += ["", report["summary"]["headline"]]
    lines += [f"  {number}. {text}" for number, text in enumerate(report["summary"]["do_first"], start=1)]
    lines += aim_lines(report["aims"])
    lines += tried_lines(report["tried"])
    known = report["summary"]["common"]
    lines += ["", "Of every home-made mask:", *(f"  {text}" for text in known)] if known else []
    return "\n".join(lines) + "\n"


def aim_lines(aims: ReportAims | None) -> list[str]:
    """What the design aims at and misses, with what stands in the way."""
    missed = [row for row in aims["rows"] if not row["kept"]] if aims is not None else []
    if not missed:
        return []
    return ["", "What stands in the way:", *(_aim_line(row) for row in missed)]


def _aim_line(row: ReportAimsRows) -> str:
    return f"  {row['name']}: {row['value_text']} ({row['limit_text']}). {row['against']}"


def tried_lines(tried: ReportTried | None) -> list[str]:
    """What would change the design, as it was tried on its wearer."""
    if tried is None:
        return []
    lines = ["", f"What would change it. {tried['told']}"]
    for row in tried["rows"]:
        how = f" ({', '.join(row['set'])})" if row["set"] else ""
        lines.append(
            f"  {row['what']}{how}: 95 % pressure {row['pressure_p95_kpa']:.1f} kPa, "
            f"{100.0 * row['share_reaching_100']:.0f} % reach 100, {100.0 * row['share_holding']:.0f} % hold"
        )
    return [*lines, f"  {tried['about']}"]


def verdict_lines(verdict: ReportVerdicts) -> tuple[str, str]:
    """One verdict of a report for reading: verdict, value and limit, and below them the reason."""
    head = f"{verdict['verdict'].upper():>5}  {verdict['topic']}: {verdict['value_text']}"
    return f"{head} ({verdict['limit_text']}).", f"       {verdict['reason']}"


COMMANDS: Mapping[str, Callable[[argparse.Namespace], int]] = {
    "make": _make,
    "shell": _shell,
    "trim": _trim,
    "cage": _cage,
    "check": _check,
    "prepare": _prepare,
    "refit": _refit,
    "merge": _merge,
    "improve": _improve,
    "demo": _demo,
    "schema": _schema,
    "completion": _completion,
}

__all__ = ["COMMANDS", "Job", "recipe_of", "report_text"]
