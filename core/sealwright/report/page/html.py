"""The fit report as one page: offline, self-contained, for desktop, phone and paper."""

from __future__ import annotations

from collections.abc import Mapping

from ..model3d import Model3D
from ..shape import FitReport
from .bands import bands_html
from .contact_face import contact_face_block
from .expected import (
    aims_block,
    breathing_block,
    prediction_block,
    second_pose_block,
    surface_block,
    tried_block,
)
from .fit_test import fit_test_block
from .guide import make_block, printing_block
from .numbers import numbers_block
from .sentences import sentence
from .text import block, embedded, escaped, listing, page_file
from .top import cautions_block, figures_block, pictures_block, strip_block, summary_block, view_block
from .trust import trust_block
from .ways import ways_block

_POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'unsafe-inline'"


def html_report(
    report: FitReport,
    pictures: Mapping[str, bytes] | None = None,
    model: Model3D | None = None,
) -> str:
    """The report as one HTML file that asks for nothing from outside.

    Parameters
    ----------
    report : see `fit_report.fit_report`.
    pictures : PNG bytes by file name, see `gallery.design_pictures`.
    model : see `model3d.model_of`; without it there is no 3D view and no maps of the band.

    Returns
    -------
    The page, with all text of the report escaped. Timings are left out, so that the same design gives the
    same page.
    """
    title = escaped(report["title"])
    content = [
        cautions_block(report),
        summary_block(report),
        figures_block(report),
        pictures_block(pictures or {}),
        view_block(model),
        strip_block(report, bands_html(model)),
        trust_block(report),
        prediction_block(report),
        aims_block(report),
        tried_block(report),
        surface_block(report),
        second_pose_block(report),
        breathing_block(report),
        printing_block(report),
        ways_block(report),
        contact_face_block(report),
        make_block(report),
        fit_test_block(report),
        numbers_block(report),
        _remarks(report),
        _made_with(report),
        _reminder(),
        embedded({key: value for key, value in report.items() if key != "timings"}, "fit-report"),
        f"<script>{page_file('paper.js')}</script>",
    ]
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
        '<meta name="color-scheme" content="light dark">'
        f"<title>Fit report: {title}</title><style>{page_file('style.css')}</style></head>\n"
        f"<body><header><p>Fit report</p><h1>{title}</h1>{_whose(report)}"
        f"{_ways(report, model is not None)}</header>"
        f"<main>{''.join(content)}</main></body></html>\n"
    )


def _whose(report: FitReport) -> str:
    """One line below the title: wearer, scan, design and day."""
    told = report["identity"]
    if told is None:
        return ""
    wearer = f"<b>{escaped(told['wearer'])}</b>" if told["wearer"] else "not named"
    words = (
        f"Wearer: {wearer}. Scan: {escaped(told['scan_name'])} "
        f"(SHA-256 <code>{escaped(told['scan_sha256'][:16])}…</code>). Recipe: "
        f"<code>{escaped(told['recipe_sha256'][:16])}…</code>. "
        f"Design: <code>{escaped(told['design_id'])}</code>. "
        f"Made on {escaped(told['date'])} with Sealwright {escaped(told['version'])}."
    )
    return f'<p class="whose">{words}</p>'


def _ways(report: FitReport, with_view: bool) -> str:
    """Links down the page; the first says how the verdict came out."""
    word = {"pass": "passed", "warn": "with warnings", "fail": "failed"}[report["summary"]["verdict"]]
    ways = [("cautions", "Cautions"), ("verdict", f"Verdict: {word}"), ("view", "3D view")]
    ways += [("prediction", "Prediction"), ("printing", "Printing"), ("making", "Parts and assembly")]
    ways += [("fit-test", "Fit test"), ("numbers", "All numbers")]
    there = {"view": with_view, "prediction": report["prediction"] is not None}
    links = [f'<a href="#{name}">{escaped(words)}</a>' for name, words in ways if there.get(name, True)]
    return f'<nav aria-label="On this page">{"".join(links)}</nav>'


def _remarks(report: FitReport) -> str:
    if not report["remarks"]:
        return ""
    items = [
        f"<b>{escaped(r['level'])}</b>, {escaped(r['role'])}: {escaped(r['text'])}"
        + (f" <small>at ({', '.join(f'{c:.0f}' for c in r['point_mm'])}) mm</small>" if r["point_mm"] else "")
        for r in report["remarks"]
    ]
    return block("Remarks on the way", listing(items), name="remarks")


def _made_with(report: FitReport) -> str:
    versions = ", ".join(f"{escaped(name)} {escaped(v)}" for name, v in report["versions"].items())
    return block("Made with", f"<p>{versions}.</p>", name="versions")


def _reminder() -> str:
    return sentence("page.reminder")
