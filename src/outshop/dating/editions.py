"""Which of a maker's versions is it? Observed features against a table that the person keeps.

The table is an open CSV: ``edition, part, feature, variant, window, trust, source``.
It holds no personal data and may be shared. Nothing real is shipped.
"""

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass

from outshop.dating.evidence import Evidence
from outshop.dating.next_look import Feature
from outshop.errors import NotationError, TableError
from outshop.railway.edtf_years import YearSet, read_years

COLUMNS = ("edition", "part", "feature", "variant", "window", "trust", "source")


@dataclass(frozen=True, slots=True)
class FeatureRow:
    """In this edition, this feature looks so, in these years."""

    edition: str
    part: str
    feature: str
    variant: str
    window: YearSet
    trust: float
    source: str = ""
    text: str = ""


@dataclass(frozen=True, slots=True)
class Observation:
    """What the person sees; ``trust`` is the chance that they read it right."""

    feature: str
    variant: str
    trust: float = 0.9


@dataclass(frozen=True, slots=True)
class EditionRank:
    """One edition's probability, and the features that speak for and against it."""

    edition: str
    probability: float
    fits: tuple[str, ...]
    against: tuple[str, ...]
    silent: tuple[str, ...]


def read_feature_table(text: str) -> tuple[FeatureRow, ...]:
    """Read a feature table from CSV.

    Raises
    ------
    TableError
        A column is missing or an entry cannot be used; the sentence names line and cure.
    """
    reader = csv.DictReader(io.StringIO(text))
    missing = [c for c in COLUMNS[:6] if c not in (reader.fieldnames or ())]
    if missing:
        message = (
            f"the first line must name the columns {', '.join(COLUMNS)}; {missing[0]} is missing"
        )
        raise TableError(message)
    return tuple(_row(line, row) for line, row in enumerate(reader, start=2))


def write_feature_table(rows: Sequence[FeatureRow]) -> str:
    """Write the table so that :func:`read_feature_table` reads it back."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for r in rows:
        writer.writerow([r.edition, r.part, r.feature, r.variant, r.text, r.trust, r.source])
    return out.getvalue()


def rank_editions(
    rows: Sequence[FeatureRow], observations: Sequence[Observation]
) -> list[EditionRank]:
    """Rank the editions of a table by what was seen, all editions alike beforehand.

    An observation has likelihood ``trust`` where the edition shows that variant; otherwise the rest
    is shared among the other variants known. Where the table is silent, all variants are alike.
    """
    editions = list(dict.fromkeys(r.edition for r in rows))
    known = {
        o.feature: {r.variant for r in rows if r.feature == o.feature} | {o.variant}
        for o in observations
    }
    weights, details = [], []
    for edition in editions:
        weight = 1.0
        fits, against, silent = [], [], []
        for seen in observations:
            shown = {r.variant for r in rows if r.edition == edition and r.feature == seen.feature}
            others = max(1, len(known[seen.feature]) - 1)
            label = f"{seen.feature}: {seen.variant}"
            if not shown:
                weight /= others + 1
                silent.append(label)
            elif seen.variant in shown:
                weight *= seen.trust / len(shown)
                fits.append(label)
            else:
                weight *= (1 - seen.trust) / others
                against.append(label)
        weights.append(weight)
        details.append((tuple(fits), tuple(against), tuple(silent)))
    total = sum(weights) or 1.0
    ranks = [
        EditionRank(e, w / total, *d) for e, w, d in zip(editions, weights, details, strict=True)
    ]
    return sorted(ranks, key=lambda r: (-r.probability, r.edition))


def evidence_from(
    rows: Sequence[FeatureRow], observations: Sequence[Observation]
) -> list[Evidence]:
    """Turn what was seen into dated evidence on the edition; unknown variants give none."""
    found = []
    for seen in observations:
        for r in rows:
            if (r.feature, r.variant) == (seen.feature, seen.variant):
                found.append(
                    Evidence(
                        f"{r.feature}: {r.variant}",
                        r.window,
                        min(r.trust, seen.trust),
                        "edition",
                        r.part,
                        r.source,
                        r.text,
                    )
                )
                break
    return found


def features_left(rows: Sequence[FeatureRow], seen: Sequence[Observation]) -> list[Feature]:
    """List the features of the table that were not looked at yet, with their variants."""
    done = {o.feature for o in seen}
    variants: dict[str, dict[str, Evidence]] = {}
    for r in rows:
        if r.feature not in done:
            item = Evidence(r.variant, r.window, r.trust, "edition", r.part, r.source, r.text)
            variants.setdefault(r.feature, {}).setdefault(r.variant, item)
    return [Feature(name, tuple(v.values())) for name, v in variants.items() if len(v) > 1]


def _row(line: int, row: dict[str, str | None]) -> FeatureRow:
    cells = {c: (row.get(c) or "").strip() for c in COLUMNS}
    for column in ("edition", "feature", "variant", "window"):
        if not cells[column]:
            message = f"line {line}: {column} is empty; fill it or remove the line"
            raise TableError(message)
    try:
        trust = float(cells["trust"].replace(",", "."))
    except ValueError as problem:
        message = f"line {line}: trust must be a number such as 0.9; got {cells['trust']!r}"
        raise TableError(message) from problem
    if not 0 < trust < 1:
        message = f"line {line}: trust must lie between 0 and 1, both excluded; got {trust}"
        raise TableError(message)
    try:
        window = read_years(cells["window"])
    except NotationError as problem:
        message = f"line {line}: {problem}"
        raise TableError(message) from problem
    return FeatureRow(
        cells["edition"],
        cells["part"],
        cells["feature"],
        cells["variant"],
        window,
        trust,
        cells["source"],
        cells["window"],
    )
