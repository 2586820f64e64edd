"""What was tried against a missed target, in a sentence: the best remedy, or that none helped."""

from __future__ import annotations

from ..predict.targets import PRESSURE, TARGETS, Target
from ..predict.tried import Tried
from .sentences import filled, sentences


def tried_words(tried: Tried | None, target: Target) -> str:
    """What to do about a missed target, said only of what was worn by the drawn cases.

    Parameters
    ----------
    tried : what was tried on this wearer; None where nothing was.
    target : the one that is missed.
    """
    if tried is None:
        return sentences("tried")["not_tried"]
    best, before = tried.best_for(target.key), tried.design.numbers[target.key]
    words: dict[str, str | int | float] = {
        "name": sentences("tried")[target.key],
        "before": figure(target, before),
        "count": tried.remedies,
    }
    if best is not None:
        words |= {"what": best.what, "after": figure(target, best.numbers[target.key])}
        return filled(sentences("tried")["helped"], words)
    return filled(sentences("tried")["kept" if target.short(before) == 0.0 else "nothing"], words)


def figure(target: Target, value: float) -> str:
    """A number of a target for reading."""
    return f"{value:.1f} kPa" if target.key == PRESSURE.key else f"{100.0 * value:.0f} %"


def told_of(tried: Tried) -> str:
    """What the table of what was tried shows, and what could not be tried."""
    words = sentences("tried")
    left_out = filled(words["not_worn"], {"names": "; ".join(tried.not_worn)}) if tried.not_worn else ""
    return f"{_shown(tried)} {left_out}".rstrip()


def _shown(tried: Tried) -> str:
    words = sentences("tried")
    if not tried.missed:
        return words["none_missed"]
    if tried.remedies == 0:
        return words["none_run"]
    best = next((row for row in tried.rows if row.helps), None)
    if best is None:
        return filled(words["none_help"], {"count": tried.remedies})
    left = [words[t.key] for t in TARGETS if t.key in tried.missed and t.short(best.numbers[t.key]) > 0.0]
    still = filled(words["still"], {"names": ", ".join(left)}) if left else ""
    return filled(words["some_help"], {"count": tried.remedies}) + f" {still}".rstrip()
