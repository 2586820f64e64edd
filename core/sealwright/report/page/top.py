"""The top of the page: cautions, what to do first, verdicts, figures, pictures, 3D view, strip chart."""

from __future__ import annotations

from collections.abc import Mapping

from ...limits import limit
from ...render.colormap import MAPS
from ...verdicts.verdict import ORDER
from ...verdicts.words import words
from ..model3d import Model3D
from ..shape import FitReport, ReportVerdicts
from .sentences import sentence
from .strip_chart import strip_chart
from .text import block, data, embedded, escaped, html_table, image_source, listing, number, page_file, pill

_PICTURES = (
    "worn-front", "worn-three-quarter", "worn-side", "body-inside", "worn-section", "joint-section", "gap",
    "wall", "print-bed", "print-limit", "ways-up",
)  # fmt: skip
CAPTIONS = {name: sentence(f"pictures.{name}") for name in _PICTURES}


def cautions_block(report: FitReport) -> str:
    """The cautions, before anything else."""
    items = [
        f"{escaped(c['text'])} <small>Basis: {escaped(c['basis'])} ({escaped(c['confidence'])}).</small>"
        for c in report["cautions"]
    ]
    return sentence("cautions.frame", cautions=listing(items))


def summary_block(report: FitReport) -> str:
    """The overall verdict, what to do first, and every verdict in a table."""
    summary = report["summary"]
    todo = [
        v for word in ("fail", "warn") for v in report["verdicts"] if v["verdict"] == word and not v["common"]
    ]
    steps = [f"{pill(v['verdict'])} <b>{escaped(v['topic'])}.</b> {_advice(v)}" for v in todo]
    steps.append(sentence("summary.fit_test", pill=pill("warn")))
    known = [escaped(line) for line in summary["common"]]
    counts = (
        f"{number(report, 'summary.failed')} failed, {number(report, 'summary.warned')} warnings, "
        f"{number(report, 'summary.passed')} passed."
    )
    return block(
        "Verdict",
        f'<p class="headline {escaped(summary["verdict"])}">{pill(summary["verdict"])} '
        f"{escaped(summary['headline'])}</p><p>{counts}</p><h3>What to do first</h3>",
        listing(steps, "ol"),
        f"<h3>Of every home-made mask</h3>{listing(known)}" if known else "",
        f"<details><summary>All verdicts</summary>{_verdict_table(report)}</details>",
        f"<details><summary>Words used in this report</summary><dl>{_words()}</dl></details>",
        name="verdict",
    )


def _words() -> str:
    return "".join(f"<dt>{escaped(word)}</dt><dd>{escaped(meaning)}</dd>" for word, meaning in words())


def _advice(verdict: ReportVerdicts) -> str:
    return f"{escaped(verdict['reason'])} {escaped(verdict['fix'])}"


def _verdict_table(report: FitReport) -> str:
    rows = []
    ranked = sorted(enumerate(report["verdicts"]), key=lambda item: ORDER.index(item[1]["verdict"]))
    for index, v in ranked:
        value = data(report, f"verdicts.{index}.value", v["value_text"])
        source = f"{escaped(v['source'])} ({escaped(v['confidence'])})"
        rows.append(
            (
                pill(v["verdict"]),
                escaped(v["topic"]),
                value,
                escaped(v["limit_text"]),
                escaped(v["reason"]),
                source,
            )
        )
    return html_table(
        ("verdict", "what", "value", "limit", "reason", "source of the limit"), rows, "verdicts"
    )


def figures_block(report: FitReport) -> str:
    """A few figures large."""
    wanted = [
        ("seal line", "seal_line.length_mm", report["seal_line"]),
        ("of it in contact", "contact.share", report["contact"]),
        ("largest gap as designed", "contact.gap_max_mm", report["contact"]),
        ("narrowest contact", "contact.band_width_min_mm", report["contact"]),
        ("clearance to nose and lips", "clearance.nose_lips_mm", report["contact"]),
        ("dead space up to the medium", "breathing.dead_space_ml", report["breathing"]),
        ("filter area", "filter.area_cm2", report["filter"]),
        ("mass of all parts", "masses.total_g", report["masses"]),
        ("printing time, to a third", "printing.total_time_min", report["printing"]),
    ]
    cells = [_figure(number(report, path), words) for words, path, section in wanted if section]
    prediction = report["prediction"]
    if prediction and prediction["fit_factor"]:
        low, high = (number(report, f"prediction.fit_factor.quantiles.{q}") for q in ("p5", "p95"))
        cells.append(
            _figure(
                f"{low} – {high}",
                f"predicted fit factor, 9 of 10 cases; {limit('fit_factor').value:g} is asked",
            )
        )
        cells.append(
            _figure(number(report, "prediction.comfort.high_kpa"), "predicted pressure, 95 % of skin below")
        )
    return block("In figures", f'<div class="figures">{"".join(cells)}</div>', name="figures")


def _figure(value: str, words: str) -> str:
    return f'<div class="figure"><b>{value}</b><span>{escaped(words)}</span></div>'


def pictures_block(pictures: Mapping[str, bytes]) -> str:
    """The pictures in their order, with captions; nothing without pictures."""
    if not pictures:
        return ""
    named = {name.removesuffix(".png"): data for name, data in pictures.items()}
    order = [*(n for n in CAPTIONS if n in named), *(n for n in named if n not in CAPTIONS)]
    shown = []
    for name in order:
        caption = escaped(CAPTIONS.get(name, name.replace("-", " ")))
        shown.append(
            f'<figure><img src="{image_source(named[name])}" '
            f'alt="{caption}"><figcaption>{caption}</figcaption>'
            "</figure>"
        )
    return block("Pictures", f'<div class="gallery">{"".join(shown)}</div>', name="pictures")


def view_block(model: Model3D | None) -> str:
    """The 3D view with its data and scripts; nothing without a model."""
    if model is None:
        return ""
    data = {**model.as_dict(), "scale": [[round(float(c), 4) for c in row] for row in MAPS["viridis"]]}
    looks = (
        ("front", 0, 0),
        ("three-quarter", 35, 12),
        ("left side", 90, 0),
        ("inside", 180, 0),
        ("above", 0, 80),
    )
    buttons = "".join(
        f'<button type="button" data-turn="{turn}" data-rise="{rise}">{escaped(words)}</button>'
        for words, turn, rise in looks
    )
    return block(
        "Look at it from all sides",
        '<div id="view3d"><div class="controls"><div class="buttons">',
        buttons,
        '</div><fieldset class="switches"><legend>Show</legend></fieldset>'
        '<fieldset class="maps"><legend>Map</legend></fieldset></div><div class="stage">'
        '<canvas tabindex="0" aria-label="3D view of the design; arrow keys turn it, plus and minus '
        'zoom"></canvas>'
        '<div class="tip" hidden></div><div class="legend" hidden><div class="marks"></div><div '
        'class="bar"></div>'
        '<span class="low"></span><span class="high"></span></div></div><p class="note"></p>'
        "<p class=hint>Drag to turn, Shift-drag or two fingers to shift, wheel or pinch to zoom; point at a "
        "place for its value.</p></div>",
        embedded(data, "model3d"),
        f"<script>{page_file('geometry.js')}</script><script>{page_file('view3d.js')}</script>",
        name="view",
    )


def strip_block(report: FitReport, bands: str) -> str:
    """The unrolled seal line; ``bands`` is more HTML below it."""
    chart = strip_chart(report)
    if not chart:
        return ""
    words = sentence("strip.about")
    return block("The seal line unrolled", words, f'<div class="scroll">{chart}</div>', bands, name="strip")
