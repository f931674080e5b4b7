"""The report on prints: parts, beds, amounts."""

from __future__ import annotations

from html import escape

from tilegen.lengths import Units, in_units, show_length
from tilegen.pictures.markup import listed, numbered, table
from tilegen.pictures.reported import Report
from tilegen.solids.estimate import Estimate
from tilegen.solids.job import PrintJob


def printing(report: Report, units: Units) -> str:
    """How it is printed: parts, then beds."""
    estimates = report.job.parts if report.job else {}
    rows = [
        (
            f"{numbered(report.numbers, thing.id)}{escape(mesh.name)}",
            str(count),
            " x ".join(show_length(side, units) for side in mesh.size),
            f"{mesh.volume / 1000:.2f}",
            *_amounts(estimates.get(mesh.name)),
        )
        for mesh, (thing, count) in zip(report.meshes, report.things, strict=True)
    ]
    text = (
        f"<p>Set out for a {escape(report.printer.title)} in <code>solids/bed-01.3mf</code> and so on, floor down; "
        "single types as STL in millimetres. A slicer may say that a file carries no print settings: that is as it "
        "should be.</p>"
    )
    if report.printer.process == "resin":
        text += (
            "<p>A whole tile flat on the plate pulls hard at the film: if yours does not let go, tilt it 10 to 45 "
            "degrees on supports (common practice, no source).</p>"
        )
    of_sheets = {*report.cutting, *(note for sheets in report.sheets for note in sheets.notes)}
    told = listed(in_units(note, units) for note in report.notes if note not in of_sheets)
    parts = table(("part", "copies", "size", "cm3 each, full", *_amount_headings(report)), rows)
    return text + told + parts + _beds(report, units)


def _beds(report: Report, units: Units) -> str:
    """What each bed takes, and all of them, with the formula."""
    job = report.job
    if job is None:
        return ""
    rows = [
        (
            f"<code>{bed.name}.3mf</code>",
            escape(", ".join(f"{count} x {name}" for name, count in bed.counts.items())),
            show_length(bed.height, units),
            *_amounts(bed.estimate),
        )
        for bed in job.beds
    ]
    rows.append(("<b>all</b>", str(sum(len(bed.items) for bed in job.beds)), "", *_amounts(job.whole)))
    return (
        "<h3>Beds</h3>"
        + table(("bed", "parts", "height", *_amount_headings(report)), rows)
        + f"<p>{escape(job.formula)}</p>{_walls(job)}"
    )


def _walls(job: PrintJob) -> str:
    words = [
        f"{wall['thickness_mm']:g} mm is {wall['lines']:.1f} lines, {wall['whole_lines']:g} whole ones are "
        f"{wall['whole_mm']:.2f} mm"
        for wall in job.walls
    ]
    return f"<p>Walls: {escape('; '.join(words))}.</p>" if words else ""


def _amount_headings(report: Report) -> tuple[str, ...]:
    return ("grams", "m of filament" if report.printer.process == "fdm" else "ml of resin", "hours (about)")


def _amounts(estimate: Estimate | None) -> tuple[str, ...]:
    if estimate is None:
        return "", "", ""
    return f"{estimate.grams:.1f}", f"{estimate.metres or estimate.millilitres:.1f}", f"{estimate.hours:.1f}"
