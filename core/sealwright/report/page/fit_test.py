"""The form for a measured fit test, whose entries are saved as JSON and held against the prediction."""

from __future__ import annotations

from ...limits import limit
from ...physics.exercises import EXERCISES
from ...physics.fit_test import CAUTION, LARGEST_FACTOR, SMALLEST_FACTOR
from ...physics.fit_test_json import FORMAT, VERSION
from ..shape import FitReport
from .sentences import sentence
from .text import block, embedded, escaped, html_table, page_file

_FIELDS = (
    ("date", "date", "Date"),
    ("tester", "text", "Tester"),
    ("instrument", "text", "Instrument"),
    ("wearer", "text", "Label of the wearer (no name)"),
    ("notes", "text", "Notes"),
)


def fit_test_block(report: FitReport) -> str:
    """The form with its script."""
    rows = []
    for exercise in EXERCISES:
        entry = (
            f'<input type="number" inputmode="decimal" min="{SMALLEST_FACTOR:g}" max="{LARGEST_FACTOR:g}" '
            f'step="any" name="{escaped(exercise.key)}" aria-label="Fit factor, {escaped(exercise.key)}">'
        )
        words = escaped(exercise.text) + (
            "" if exercise.counts else " (does not count in the overall fit factor)"
        )
        name = escaped(exercise.key.replace("_", " "))
        rows.append((name, words, f"{exercise.seconds} s", entry))
    fields = "".join(
        f'<label>{escaped(words)} <input type="{kind}" name="{name}"></label>'
        for name, kind, words in _FIELDS
    )
    good, near = limit("fit_factor"), limit("fit_factor_near_miss")
    rule = sentence(
        "fit_test.rule",
        passing=f"{good.value:g}",
        confidence=escaped(good.confidence),
        warn=f"{near.value:g}",
    )
    return block(
        "Fit test",
        f'<p class="strong">{escaped(CAUTION)}</p>{rule}',
        f'<form id="fit-form" autocomplete="off"><div class="fields">{fields}</div>',
        html_table(("exercise", "what the wearer does", "time", "measured fit factor"), rows, "exercises"),
        '<p id="fit-result" class="headline" aria-live="polite">Not done yet.</p>'
        '<p id="fit-comparison" aria-live="polite"></p>'
        '<div class="buttons"><button type="button" id="fit-save">Save as JSON</button>'
        '<label class="button">Load a saved test <input type="file" id="fit-load" '
        'accept=".json,application/json"'
        "></label></div></form>",
        embedded(form_data(report), "fit-data"),
        f"<script>{page_file('fit_test.js')}</script>",
        name="fit-test",
    )


def form_data(report: FitReport) -> dict[str, object]:
    """What the form's script needs to know."""
    prediction = report["prediction"]
    fit = prediction["fit_factor"] if prediction else None
    return {
        "format": FORMAT,
        "version": VERSION,
        "exercises": [{"key": e.key, "counts": e.counts} for e in EXERCISES],
        "pass": limit("fit_factor").value,
        "warn": limit("fit_factor_near_miss").value,
        "least": SMALLEST_FACTOR,
        "most": LARGEST_FACTOR,
        "quantiles": fit["quantiles"] if fit else None,
    }
