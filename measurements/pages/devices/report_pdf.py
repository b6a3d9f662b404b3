"""A device's report as PDF: text that can be selected, figures as tables, charts as pictures.

The fonts are those that every reader of PDF carries, so a letter outside Western European writing is shown as
"?"; the page of the report shows it, and the PDF says so where it happens.
"""

from __future__ import annotations

from measurements.charts import rendering, test_chart
from measurements.disclosure.viewers import Viewer
from measurements.pages.devices.presenters import StatePresentation
from measurements.pages.devices.report_contents import Report, TestPart
from measurements.pages.devices.report_sheet import COLOURS, FAINT, HEADING, Sheet, compute_picture_height_mm
from measurements.pages.layout import figures, upkeep_wording
from measurements.pages.upkeep import trend_charts
from measurements.selectors.reference import reference
from measurements.selectors.upkeep import photos

CHART_PX, HALF_PX = 700, 400


def draw_report_pdf(report: Report, viewer: Viewer, *, group_name: str) -> bytes:
    """Return the whole report. viewer: who reads it, for the pictures."""
    sheet = Sheet(group_name, report.device.tag, report.made_on, report.engine_version)
    sheet.add_page()
    _head(sheet, report)
    _state(sheet, report)
    _about(sheet, report)
    for part in report.tests:
        _test(sheet, part)
    _trend(sheet, report)
    _inspection(sheet, report)
    _photos(sheet, report, viewer)
    _history(sheet, report)
    sheet.together(lambda sheet: _cautions(sheet, report))
    return sheet.finished()


def _head(sheet: Sheet, report: Report) -> None:
    sheet.said(report.device.tag, size=22, bold=True)
    sheet.said(report.device.design_title, size=11, colour=FAINT)
    sheet.gap(4)


def _state(sheet: Sheet, report: Report) -> None:
    state = report.state
    colour = COLOURS[state.said.look]
    top = sheet.get_y()
    with sheet.indented(5):
        sheet.said(state.said.word, size=16, bold=True, colour=colour)
        for reason, _ in state.reasons:
            sheet.bullet(reason.message)
        sheet.said(f"Next: {state.row.next_step.message}", bold=True)
        _basis(sheet, state)
    sheet.bar(top, sheet.get_y(), colour)
    sheet.gap(2)
    limits = state.row.limits
    sheet.small(
        f"Judged on {sheet.day(state.row.judged_on)} by the group's settings: benchmark "
        f"{limits.benchmark_db:g} "
        f"dB of rejection, SWR {limits.swr:g}, loss {limits.loss_db:g} dB; watched under "
        f"{limits.watch_margin_db:g} dB above the benchmark, and within U or repeatability of any limit; "
        f"drift allowed: {limits.drift_db:g} dB of rejection, {limits.drift_loss_db:g} dB of loss, "
        f"{limits.drift_swr:g} of SWR; a "
        f"test every "
        f"{limits.test_interval_days} and an inspection every {limits.inspection_interval_days} days."
        + (" Judged from the tests of own nights alone." if state.row.own_nights_only else "")
    )


def _basis(sheet: Sheet, state: StatePresentation) -> None:
    """Write what the state rests on, test by test, what it does not cover, and every item with its day."""
    for title, found in state.basis:
        sheet.bullet(f"{title}: {found}")
    if state.row.not_covered:
        sheet.bullet(f"Not covered: {' '.join(state.row.not_covered)}")
    items = [
        f"{item.title} {said.word.lower()}{f' ({sheet.day(item.answered_on)})' if item.answered_on else ''}"
        for item, said in state.items
    ]
    sheet.bullet(f"Items: {'; '.join(items)}.")


def _about(sheet: Sheet, report: Report) -> None:
    device = report.device
    facts = [*report.recipe, ("Where it comes from", report.origin), ("Owner", device.owner)]
    if device.built_on:
        facts.append(("Built on", sheet.day(device.built_on)))
    if device.place:
        facts.append(("In service", device.place))
    if device.retired_on:
        facts.append(("Retired on", sheet.day(device.retired_on)))
    sheet.heading("The device")
    sheet.facts(facts)
    if device.notes:
        sheet.gap(1)
        sheet.said(device.notes)


def _test(sheet: Sheet, part: TestPart) -> None:
    sheet.together(lambda sheet: _figures(sheet, part))
    _charts(sheet, part)
    sheet.together(lambda sheet: _made(sheet, part))
    if part.flags:
        sheet.together(lambda sheet: _flags(sheet, part))


def _figures(sheet: Sheet, part: TestPart) -> None:
    sheet.heading(f"{part.title}, {sheet.day(part.row.measured_on)}")
    sheet.said(part.overall_words, size=12, bold=True, colour=COLOURS[part.overall.look])
    if part.limit:
        sheet.small(f"Held against {part.limit}, at the worst point of each band.")
    if part.lines:
        heads = ["Band", "Verdict", *(_titled(column.title, column.unit) for column in part.columns)]
        rows = [[line.band, line.said.short, *line.cells] for line in part.lines]
        looks = [COLOURS[line.said.look] for line in part.lines]
        sheet.table_of(heads, rows, looks)
    if part.summary:
        sheet.gap(1)
        sheet.facts(part.summary)


def _made(sheet: Sheet, part: TestPart) -> None:
    sheet.subheading("How it was measured")
    sheet.facts(part.made)


def _flags(sheet: Sheet, part: TestPart) -> None:
    sheet.subheading("What to know about it")
    for flag in part.flags:
        sheet.bullet(flag)


def _titled(title: str, unit: str) -> str:
    return f"{title}, {unit}" if unit else title


def _charts(sheet: Sheet, part: TestPart) -> None:
    bands = reference.list_bands(part.row.settings.get("region"), part.row.measured_on)
    several = len(part.panels) > 1
    width_px = HALF_PX if several else CHART_PX
    specs = [
        test_chart.build_test_chart(part.row, part.traces, bands, view=name, width_px=width_px)
        for name in part.panels
    ]
    drawn = [(rendering.render_png(spec), str(spec["description"])) for spec in specs if spec is not None]
    if several:
        sheet.gap(2)
        sheet.side_by_side(drawn, share=0.86, caption=False)
    for png, said in drawn if not several else ():
        sheet.picture(png, words=said)


def _trend(sheet: Sheet, report: Report) -> None:
    if not report.trend_band:
        return
    spec = trend_charts.build_trend_spec(
        report.trend, report.state.row, report.trend_band, tone="light", width_px=CHART_PX
    )
    drawn = None if spec is None else rendering.render_png(spec)
    sheet.heading("Over time", room=HEADING + (0 if drawn is None else compute_picture_height_mm(drawn)))
    if spec is not None and drawn is not None:
        sheet.picture(drawn, words=str(spec["description"]))
    sheet.together(lambda sheet: _change(sheet, report))


def _change(sheet: Sheet, report: Report) -> None:
    change = report.state.row.change
    if change:
        heads = ["Band", "Commissioning, dB", "Now, dB", "Change, dB", "Repeatability limit, dB", "Meaning"]
        sheet.gap(2)
        sheet.table_of(
            heads,
            [
                [
                    row.band,
                    f"{row.baseline_db:.1f}",
                    f"{row.newest_db:.1f}",
                    figures.format_change(row.change_db),
                    "unknown" if row.real_from_db is None else f"{row.real_from_db:.1f}",
                    upkeep_wording.describe_change(row),
                ]
                for row in change
            ],
            widths=(16, 26, 18, 20, 26, 68),
            remark=True,
        )
    sheet.small(report.state.yardstick)


def _inspection(sheet: Sheet, report: Report) -> None:
    look = report.inspection
    if look is None:
        return
    sheet.heading(f"Inspection, {sheet.day(look.inspected_on)}", room=40)
    if report.findings:
        rows = [[finding.title, said.word, finding.note] for finding, said in report.findings]
        looks = [COLOURS[said.look] for _, said in report.findings]
        sheet.table_of(["Item", "How it looked", "Note"], rows, looks, widths=(55, 30, 89), text=True)
    if look.dc_ohm is not None:
        sheet.said(f"DC resistance: {look.dc_ohm:g} ohm")
    if look.notes:
        sheet.said(look.notes)


def _photos(sheet: Sheet, report: Report, viewer: Viewer) -> None:
    if not report.photos:
        return
    sheet.heading("Pictures", room=80)
    found = [(photos.get_photo_content(viewer, each.key, "full")[0], each.caption) for each in report.photos]
    sheet.side_by_side(found, share=0.75, caption=True)


def _history(sheet: Sheet, report: Report) -> None:
    sheet.heading("History", room=40)
    rows = [[sheet.day(entry.on), entry.title, entry.detail] for entry in report.history]
    sheet.table_of(["Day", "What", "Outcome"], rows, widths=(32, 58, 84), text=True)


def _cautions(sheet: Sheet, report: Report) -> None:
    sheet.heading("Take care")
    for caution in report.cautions:
        sheet.bullet(f"{caution.title}. {caution.text}")
