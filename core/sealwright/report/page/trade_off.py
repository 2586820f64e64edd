"""The trade-off of a search as one page: a plot to choose from, a table, and links to the recipes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from ...cautions import CAUTIONS
from ...limits import limit
from ...search.evaluator import Choice
from ...search.improve import Improvement
from ...search.improve_files import ABOUT, pick_names, recipe_name, spoken_change
from .sentences import sentence
from .text import block, escaped, html_table, listing, page_file, pill

_WIDTH, _HEIGHT = 720.0, 380.0
_LEFT, _RIGHT, _TOP, _BOTTOM = 64.0, 20.0, 16.0, 46.0
Span = tuple[float, float]
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"


def trade_off_page(found: Improvement, title: str) -> str:
    """A self-contained page of the designs that no other beats.

    Parameters
    ----------
    found : what the search found.
    title : whose, or of which scan.
    """
    about = f"<p>{escaped(found.tried)} designs tried, {sum(found.refused.values())} of them refused.</p>"
    plot = block(
        "Choose from the trade-off",
        "<p>Left presses less, up works more often; the table has what each weighs. Ringed designs were "
        "made in full and examined as their "
        "report does; the square is the start.</p>",
        _plot(found),
        name="trade-off",
    )
    cautions = sentence("cautions.frame", cautions=listing([escaped(c.text) for c in CAUTIONS]))
    content = f"{cautions}{plot}{_table(found)}{_in_full(found)}{about}"
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
        '<meta name="color-scheme" content="light dark">'
        f"<title>Trade-off: {escaped(title)}</title><style>{page_file('style.css')}</style></head>\n"
        f"<body><header><p>Trade-off of a search</p><h1>{escaped(title)}</h1></header>"
        f"<main>{content}</main></body></html>\n"
    )


def _plot(found: Improvement) -> str:
    """Pressure across, working share up, with the wanted share as a line."""
    shown = [*found.front, *([found.start] if found.start else [])]
    if not shown:
        return "<p>No design could be worked out.</p>"
    wanted = limit("hold_share").value
    across = [choice.numbers.pressure_kpa for choice in shown]
    up = [*(choice.numbers.working for choice in shown), wanted]
    x_low, x_high = _padded(min(across), max(across))
    y_low, y_high = max(min(up) - 0.03, 0.0), min(max(up) + 0.03, 1.0)

    def at(kpa: float, share: float) -> tuple[float, float]:
        """Place of a design in the picture."""
        x = _LEFT + (kpa - x_low) / (x_high - x_low) * (_WIDTH - _LEFT - _RIGHT)
        y = _HEIGHT - _BOTTOM - (share - y_low) / (y_high - y_low) * (_HEIGHT - _TOP - _BOTTOM)
        return x, y

    names = pick_names(found)
    line = at(x_low, wanted)[1]
    out = [
        f'<rect class="row" x="{_LEFT}" y="{_TOP}" width="{_WIDTH - _LEFT - _RIGHT}" '
        f'height="{_HEIGHT - _TOP - _BOTTOM}"/>',
        f'<line class="limit" x1="{_LEFT}" y1="{line:.1f}" x2="{_WIDTH - _RIGHT}" y2="{line:.1f}"/>',
        f'<text class="limit" x="{_WIDTH - _RIGHT - 4}" y="{line - 4:.1f}">{100 * wanted:g} % wanted</text>',
        *_ticks(at, (x_low, x_high), (y_low, y_high)),
    ]
    if found.start is not None:
        x, y = at(found.start.numbers.pressure_kpa, found.start.numbers.working)
        out.append(f'<rect class="curve" x="{x - 5:.1f}" y="{y - 5:.1f}" width="10" height="10"/>')
    for index, choice in enumerate(found.front, start=1):
        x, y = at(choice.numbers.pressure_kpa, choice.numbers.working)
        if index in names:
            out.append(f'<circle class="curve" cx="{x:.1f}" cy="{y:.1f}" r="9"/>')
        out.append(f'<circle class="dot" cx="{x:.1f}" cy="{y:.1f}" r="4"/>')
        out.append(f'<text class="tick" x="{x - 9:.1f}" y="{y - 8:.1f}">{index}</text>')
    return (
        f'<div class="scroll"><svg class="strip" viewBox="0 0 {_WIDTH:g} {_HEIGHT:g}" role="img" '
        f'aria-label="Pressure against how often a design works">{"".join(out)}</svg></div>'
    )


def _padded(low: float, high: float) -> tuple[float, float]:
    room = max(0.08 * (high - low), 0.05)
    return low - room, high + room


def _ticks(
    at: Callable[[float, float], tuple[float, float]], across: tuple[float, float], up: tuple[float, float]
) -> list[str]:
    """Numbers along both axes, at five even places, and what they are of."""
    out, low = [], up[0]
    for part in range(5):
        kpa = across[0] + part / 4.0 * (across[1] - across[0])
        share = up[0] + part / 4.0 * (up[1] - up[0])
        x, floor = at(kpa, low)
        wall, y = at(across[0], share)
        out.append(f'<text class="tick" x="{x + 10:.1f}" y="{floor + 16:.1f}">{kpa:.1f}</text>')
        out.append(f'<text class="tick" x="{wall - 6:.1f}" y="{y + 4:.1f}">{100 * share:.0f} %</text>')
    out.append(
        f'<text class="unit" x="{_LEFT}" y="{_HEIGHT - 8:.1f}">kPa that 95 % of the skin stay below</text>'
    )
    return out


def _table(found: Improvement) -> str:
    base = {} if found.start is None else found.start.values
    rows = [] if found.start is None else [_row("start", found.start, base, ())]
    names = pick_names(found)
    for index, choice in enumerate(found.front, start=1):
        link = f'<a href="{escaped(recipe_name(index))}">{index}</a>'
        rows.append(_row(link, choice, base, names.get(index, ())))
    head = ("recipe", "presses", "works", "holds", "reaches 100", "hangs", "chamber", "what is other", "pick")
    return block("Designs", f"<p><small>{escaped(ABOUT)}</small></p>", html_table(head, rows), name="designs")


def _row(link: str, choice: Choice, base: Mapping[str, float], picks: Sequence[str]) -> tuple[str, ...]:
    said = choice.numbers
    shares = (f"{100 * share:.1f} %" for share in (said.working, said.holding, said.reaching))
    return (
        link,
        f"{said.pressure_kpa:.2f} kPa",
        *shares,
        f"{choice.mass_g:.0f} g",
        f"{choice.chamber_ml:.0f} mL",
        escaped(spoken_change(choice, base)),
        escaped(", ".join(picks)),
    )


def _in_full(found: Improvement) -> str:
    """What the reports of the start and of the picks say."""
    checked = {"start": found.start_check} | {name: pick.full for name, pick in found.picks.items()}
    rows = [
        (
            escaped(name),
            pill(check.verdict),
            f"{check.pressure_kpa:.2f} kPa",
            f"{100 * check.working:.1f} %",
            f"{check.pull_n:.1f} N",
            f"{check.mass_g:.0f} g",
            escaped(", ".join(check.failed)),
        )
        for name, check in checked.items()
        if check is not None
    ]
    head = ("design", "verdict", "presses", "works", "straps", "hangs", "failed")
    return block("Made in full", html_table(head, rows), name="in-full") if rows else ""
