"""The release sheet as PDF: what was found, done, and proved better."""

from datetime import date
from typing import Any

from outshop.errors import InputError, NotationError
from outshop.reports.charts import PRINT, interval_strip, spectrum_overlay
from outshop.reports.figures import written
from outshop.reports.printing import picture_name, print_pdf
from outshop.reports.sheet import ReleaseSheet, RunInLine, SheetRow
from outshop.reports.words import quantity, verdict


def release_sheet(sheet: ReleaseSheet, photo: bytes | None = None) -> bytes:
    """Print the sheet; the same sheet and photo give the same bytes.

    Parameters
    ----------
    sheet : ReleaseSheet
        What it says.
    photo : bytes, optional
        The picture ``sheet.photo_sha256`` stands for, as JPEG or PNG. One that cannot be
        printed is left out: the sheet matters more.

    Returns
    -------
    bytes
        A PDF, one page, two where much was found or done.

    Raises
    ------
    NotationError
        ``released_on`` is not an ISO 8601 day.
    """
    pictures: dict[str, bytes] = {}
    rows = [_row(number, row, pictures) for number, row in enumerate(sheet.rows)]
    data: dict[str, Any] = {
        "number": sheet.number,
        "date": _day(sheet.released_on),
        "released_on": sheet.released_on,
        "title": sheet.title.strip() or "Unnamed piece",
        "identity": [{"label": f.label, "value": f.value} for f in sheet.identity],
        "verdict": sheet.verdict,
        "verdict_word": f"{verdict(sheet.verdict).capitalize()}.",
        "verdict_sentence": sheet.verdict_sentence,
        "found": sheet.found,
        "done": sheet.done,
        "parts_fitted": sheet.parts_fitted,
        "rows": rows,
        "run_in": _run_in(sheet.run_in) if sheet.run_in else [],
        "run_in_note": sheet.run_in.note if sheet.run_in else "",
        "cautions": sheet.cautions,
        "remarks": sheet.remarks,
        "signed_by": sheet.signed_by,
        "spectrum": None,
        "photo": None,
    }
    if sheet.spectrum:
        s = sheet.spectrum
        svg = spectrum_overlay(
            s.frequency_hz, s.before_db, s.after_db, palette=PRINT, width=640, height=84
        )
        pictures["spectrum.svg"] = svg.encode()
        data["spectrum"] = "spectrum.svg"
    name = picture_name("photo", photo) if photo else None
    if photo and name:
        try:
            return print_pdf("release", {**data, "photo": name}, {**pictures, name: photo})
        except InputError:  # a damaged picture; the sheet is printed without it just below
            pass
    return print_pdf("release", data, pictures)


def _day(text: str) -> list[int]:
    try:
        day = date.fromisoformat(text)
    except ValueError as problem:
        message = f"the day {text!r} is not written like 2026-03-01"
        raise NotationError(message) from problem
    return [day.year, day.month, day.day]


def _row(number: int, row: SheetRow, pictures: dict[str, bytes]) -> dict[str, Any]:
    """Give one row in words, and put its little chart among the pictures."""
    svg = interval_strip(row.before, row.after, palette=PRINT, width=96)
    chart = f"row{number}.svg" if svg else None
    if chart:
        pictures[chart] = svg.encode()
    shape: dict[str, Any] = {
        "quantity": quantity(row.quantity),
        "verdict": row.verdict,
        "verdict_word": verdict(row.verdict),
        "reason": row.reason,
        "chart": chart,
        "chart_words": f"before {written(row.before).line}, after {written(row.after).line}",
    }
    for name, signed in (("before", False), ("after", False), ("change", True)):
        w = written(getattr(row, name), signed=signed)
        shape[name] = {"value": w.value, "spread": w.spread, "unit": w.unit, "reason": w.reason}
    return shape


def _run_in(line: RunInLine) -> list[dict[str, str]]:
    cells = [
        ("Forward", f"{line.forward_min:g} min"),
        ("Reverse", f"{line.reverse_min:g} min"),
        ("Warmest", f"{line.highest_c:g} °C" if line.highest_c is not None else ""),
        ("Highest current", f"{line.highest_a:g} A" if line.highest_a is not None else ""),
    ]
    return [{"label": label, "value": value} for label, value in cells if value]
