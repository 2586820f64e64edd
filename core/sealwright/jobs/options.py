"""The words of the command line: read and checked without loading anything large."""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Sequence
from pathlib import Path

from .. import __version__

CAUTION = (
    "A home-made mask is not a certified respirator. Never use it in oxygen-deficient or immediately "
    "dangerous air. It needs a fit test by a competent person, no beard under the seal, and skin-safe materials. "  # noqa: E501
    "Local codes and licensed practice decide."
)
COMMANDS = (
    "make",
    "shell",
    "trim",
    "cage",
    "check",
    "prepare",
    "refit",
    "merge",
    "improve",
    "demo",
    "schema",
    "completion",
)
GROUPS = ("parts", "report", "pictures")
"""What a folder is made of, in the order in which it is written."""

_NUMBERS = re.compile(r"-[\d.][\d.eE+-]*(,[-+\d.eE]*)+")


def parsed(argv: Sequence[str] | None = None) -> argparse.Namespace:
    """The options of a command line.

    Raises
    ------
    SystemExit : 2 with the usage on words that are no command or option; 0 after help or version.
    """
    words = sys.argv[1:] if argv is None else list(argv)
    # A point may begin with a minus; a blank before it keeps it from being taken for an option.
    return parser().parse_args([f" {word}" if _NUMBERS.fullmatch(word) else word for word in words])


def parser() -> argparse.ArgumentParser:
    """The parser of all commands."""
    top = argparse.ArgumentParser("sealwright", description="Mask bodies from face scans.", epilog=CAUTION)
    top.add_argument("--version", action="version", version=f"sealwright {__version__}")
    commands = top.add_subparsers(required=True, metavar="COMMAND", dest="command")
    command = _command(commands, "make", "design a mask and write its folder")
    _scan(command)
    _whose(command)
    command.add_argument("--second-pose", type=_path, help="second scan of the wearer, such as mouth open")
    _chamber(command)
    _cutters(command, "the cutters")
    _folder_of_design(command)
    command = _command(commands, "shell", "make a shell over an outline on the skin")
    _scan(command)
    _whose(command)
    command.add_argument(
        "--outline",
        type=_path,
        required=True,
        metavar="FILE",
        help="JSON list of [x, y, z] on the skin, in scan coordinates",
    )
    _cutters(command, "the cutters")
    _folder_of_design(command)
    command = _command(commands, "trim", "trim a closed mesh to the skin and give it a contact band")
    command.add_argument("mesh", type=_path, help="closed mesh: STL, PLY, OBJ or GLB")
    _scan(command)
    _whose(command)
    _cutters(command, "the mesh and the cutters")
    _folder_of_design(command)
    command = _command(commands, "cage", "write the chamber of a design as a cage to be shaped by hand")
    _scan(command)
    command.add_argument("--out", type=_path, required=True, metavar="FILE", help="JSON file to write")
    _scan(_command(commands, "check", "design a mask and print its verdicts; write nothing"))
    command = _command(commands, "prepare", "read a scan and print what was found")
    _scan(command)
    command.add_argument("--out", type=_folder, help="folder for pictures of what the scan covers")
    _refit(_command(commands, "refit", "the same recipe on many scans, resumable"))
    command = _command(commands, "merge", "one table of the folders of several refits")
    command.add_argument("folders", type=_folder, nargs="+", metavar="DIR", help="folders of refits")
    command.add_argument("--out", type=_folder, required=True, help="folder for refit.json and refit.csv")
    _improve(_command(commands, "improve", "search designs that press less and hold no less"))
    command = _command(commands, "demo", "the main job on a demo scan")
    command.add_argument("--out", type=_folder, default=Path("out/demo"), help="folder to write")
    command.add_argument("--wearer", default="Marlo", help="invented wearer of the demo scenes")
    command.add_argument("--replace", action="store_true", help="clear another design made in that folder")
    command.add_argument("--no-pictures", action="store_true", help="leave out the pictures")
    command = _command(commands, "schema", "print a JSON schema")
    command.add_argument("which", choices=("recipe", "report", "fit-test"))
    command = _command(commands, "completion", "print lines that let a shell complete these commands")
    command.add_argument("shell", choices=("bash", "zsh", "fish"))
    return top


def _command(
    commands: argparse._SubParsersAction[argparse.ArgumentParser], name: str, text: str
) -> argparse.ArgumentParser:
    command: argparse.ArgumentParser = commands.add_parser(name, help=text, description=text, epilog=CAUTION)
    return command


def _folder(text: str) -> Path:
    if not text.strip():
        raise argparse.ArgumentTypeError("the name of a folder is empty; '.' is the current one")
    return _path(text)


def _groups(text: str) -> tuple[str, ...]:
    asked = {word.strip() for word in text.split(",")}
    if not asked <= set(GROUPS):
        raise argparse.ArgumentTypeError(f"say some of {', '.join(GROUPS)} with commas between")
    return tuple(group for group in GROUPS if group in asked)


def _path(text: str) -> Path:
    if not text or "\0" in text:
        raise argparse.ArgumentTypeError("the name of a file is empty or holds a zero byte")
    return Path(text)


def _recipe(command: argparse.ArgumentParser) -> None:
    command.add_argument("--recipe", type=_path, help="recipe file; the default recipe without it")


def _folder_of_design(command: argparse.ArgumentParser) -> None:
    command.add_argument("--out", type=_folder, required=True, help="folder to write")
    command.add_argument("--replace", action="store_true", help="clear another design made in that folder")
    command.add_argument("--no-pictures", action="store_true", help="leave out the pictures")
    command.add_argument(
        "--only",
        type=_groups,
        default=GROUPS,
        metavar="WHAT",
        help="make and write no more than this: parts, report, pictures, or some of them with commas between",
    )
    command.add_argument("--timings", action="store_true", help="say how long each stage took")


def _chamber(command: argparse.ArgumentParser) -> None:
    """The outer form of the chamber."""
    command.add_argument(
        "--chamber",
        type=_path,
        metavar="CAGE",
        help="outer form of the chamber: a cage from the command cage, or an open mesh in the design's frame",
    )


def _cutters(command: argparse.ArgumentParser, what: str) -> None:
    """Meshes of the maker that are cut out of what is made, and the coordinates of such meshes."""
    command.add_argument(
        "--cutter",
        type=_path,
        action="append",
        default=[],
        metavar="FILE",
        help="closed mesh that is cut out; may be given several times",
    )
    command.add_argument(
        "--frame", choices=("scan", "design"), default="scan", help=f"coordinates of {what} (design: mm)"
    )


def _whose(command: argparse.ArgumentParser) -> None:
    command.add_argument("--wearer", default="", metavar="LABEL", help="whose mask it is, in your words")
    command.add_argument("--date", default="", metavar="DAY", help="day for the report, such as 2025-03-31")


def _scan(command: argparse.ArgumentParser) -> None:
    """Options that say which scan and how it is to be read."""
    command.add_argument("scan", type=_path, help="STL, PLY, OBJ or GLB")
    _recipe(command)
    command.add_argument("--unit", choices=("mm", "cm", "m", "in"), default="", help="unit of the scan")
    command.add_argument("--known-length", type=float, metavar="MM", help="true distance of --between")
    command.add_argument(
        "--between", nargs=2, metavar=("P", "Q"), help="two points x,y,z in scan coordinates"
    )
    command.add_argument(
        "--reference", default="", metavar="NAME", help="flat object in the scan: card, or LONGxSHORT in mm"
    )
    command.add_argument(
        "--reference-patch",
        default="",
        metavar="PATCH",
        help="its place: x,y,z,radius in scan coordinates, or a JSON file of triangle numbers",
    )
    command.add_argument("--landmarks", type=_path, help="JSON file, name -> [x, y, z] in scan coordinates")
    command.add_argument(
        "--adult", action="store_true", help="say that a very small face is an adult's; the report repeats it"
    )


def _refit(command: argparse.ArgumentParser) -> None:
    command.add_argument("scans", type=_path, nargs="*", metavar="SCAN")
    command.add_argument(
        "--list", type=_path, metavar="FILE", help="CSV or JSON of scans with label, unit, landmarks, ..."
    )
    command.add_argument(
        "--labels-from-names", action="store_true", help="take each scan's file name as its wearer's label"
    )
    _recipe(command)
    command.add_argument("--out", type=_folder, required=True, help="folder with one folder for each wearer")
    command.add_argument("--workers", type=int, default=2, help="processes at a time")
    command.add_argument("--no-pictures", action="store_true", help="leave out the pictures")
    command.add_argument("--date", default="", metavar="DAY", help="day for the reports, such as 2025-03-31")


def _improve(command: argparse.ArgumentParser) -> None:
    _scan(command)
    _chamber(command)
    command.add_argument("--out", type=_folder, required=True, help="folder for the table and the recipes")
    command.add_argument("--evaluations", type=int, help="designs to try")
    command.add_argument("--seed", type=int, help="the same seed tries the same designs")
    command.add_argument("--workers", type=int, default=2, help="processes at a time; the same results")
    command.add_argument("--vary", nargs="+", metavar="KEY", help="recipe keys to vary")
