"""Evidence and feature tables in and out as CSV."""

import csv
import io
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.text import slugify
from django.views.decorators.http import require_POST, require_safe

from outshop.dating.editions import read_feature_table, write_feature_table
from outshop.dating.evidence import make_case
from outshop.errors import InputError, TableError
from outshop.market.comparables import safe_cell
from outshop.pages import lookup
from outshop.pages.tables import read_upload
from outshop.records import services
from outshop.records.queries import dating as queries

COLUMNS = ("what", "window", "trust", "about", "part", "source")


@require_POST
def import_evidence(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep a table of evidence, or nothing of it."""
    piece = lookup.piece(pk)
    rows = read_evidence_table(read_upload(request))
    years = queries.years_considered()
    make_case([dict(r) for r in rows], years[0], years[-1])  # nothing is kept if one is wrong
    services.add_many_evidences(piece=piece, rows=rows)
    return redirect(f"{reverse('years', args=[pk])}#evidence")


@require_POST
def import_features(request: HttpRequest, pk: int) -> HttpResponse:
    """Put a feature table in the place of the edition's old one."""
    piece = lookup.piece(pk)
    if piece.edition is None:
        message = "the piece names no edition: enter maker and name of the edition first"
        raise InputError(message)
    services.replace_features(edition=piece.edition, rows=read_feature_table(read_upload(request)))
    return redirect(f"{reverse('years', args=[pk])}#edition")


@require_safe
def export_features(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001 - a view
    """Give the edition's feature table as an open file without personal data."""
    piece = lookup.piece(pk)
    rows = queries.feature_rows(piece.edition) if piece.edition else ()
    text = "\n".join(
        ",".join(_quoted(safe_cell(cell)) for cell in line)
        for line in csv.reader(io.StringIO(write_feature_table(rows)))
    )
    return _download(text + "\n", f"{piece.edition or 'edition'}-features")


@require_safe
def export_evidence(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001 - a view
    """Give a piece's evidence as CSV that the import reads back; no cell is a live formula."""
    piece = lookup.piece(pk)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for e in queries.evidence_of(piece):
        texts = (e.what, e.window, f"{e.trust:g}", e.about, e.part, e.source)
        writer.writerow([safe_cell(text) for text in texts])
    return _download(out.getvalue(), f"{piece}-evidence")


def _download(text: str, name: str) -> HttpResponse:
    response = HttpResponse(text, content_type="text/csv; charset=utf-8")
    plain = slugify(name) or "table"
    response["Content-Disposition"] = f'attachment; filename="{plain}.csv"'
    return response


def read_evidence_table(text: str) -> list[dict[str, Any]]:
    """Read evidence from CSV with a header line.

    Raises
    ------
    TableError
        A column is missing or a trust is no number; the sentence names the line.
    """
    reader = csv.DictReader(io.StringIO(text))
    missing = [c for c in COLUMNS[:3] if c not in (reader.fieldnames or ())]
    if missing:
        names = ", ".join(COLUMNS)
        message = f"the first line must name the columns {names}; {missing[0]} is missing"
        raise TableError(message)
    rows = []
    for line, cells in enumerate(reader, start=2):
        row: dict[str, Any] = {c: (cells.get(c) or "").strip() for c in COLUMNS}
        try:
            row["trust"] = float(row["trust"].replace(",", "."))
        except ValueError as problem:
            message = f"line {line}: trust must be a number such as 0.9; got {row['trust']!r}"
            raise TableError(message) from problem
        row["about"] = row["about"] or "edition"
        rows.append(row)
    return rows


def _quoted(cell: str) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="").writerow([cell])
    return out.getvalue()
