"""The seller's words beside what was found: upheld, contradicted, or not testable."""

import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from functools import cache
from importlib.resources import files

ALL_PARTS = "*"
LONGEST = 200  # characters of one claim; a whole listing is cut into sentences first


class Verdict(StrEnum):
    """What the evidence says of a claim."""

    UPHELD = "upheld"
    CONTRADICTED = "contradicted"
    NOT_TESTABLE = "not testable"


@dataclass(frozen=True, slots=True)
class Seen:
    """One part as found: its state and how grave that is (good, watch, fault, stop, absent)."""

    part: str
    state: str
    gravity: str
    sentence: str


@dataclass(frozen=True, slots=True)
class ClaimKind:
    """What can test a kind of claim."""

    id: str
    words: tuple[str, ...]
    parts: tuple[str, ...]
    against: frozenset[str]
    needs: str
    measure: str = ""


@dataclass(frozen=True, slots=True)
class Judged:
    """A claim with its verdict and the evidence in words."""

    claim: str
    kind: str
    verdict: Verdict
    because: tuple[str, ...]


@cache
def claim_kinds() -> tuple[ClaimKind, ...]:
    """Load the kinds of claim that can be tested."""
    text = (files("outshop.market") / "tables" / "claims.toml").read_text(encoding="utf-8")
    return tuple(
        ClaimKind(
            row["id"],
            tuple(row["words"]),
            tuple(row["parts"]),
            frozenset(row["against"]),
            row["needs"],
            row.get("measure", ""),
        )
        for row in tomllib.loads(text)["claim"]
    )


def find_claims(listing: str) -> list[tuple[str, ClaimKind]]:
    """Find the testable claims in a listing, however long, each kind once in order of appearance.

    Returns
    -------
    list of (sentence, kind)
        The sentence in the seller's own words.
    """
    found: dict[str, tuple[str, ClaimKind]] = {}
    for raw in re.split(r"[.;\n!?•]+", listing):
        sentence = " ".join(raw.split())[:LONGEST]
        for kind in claim_kinds():
            if kind.id not in found and _says(sentence.lower(), kind):
                found[kind.id] = (sentence, kind)
    return list(found.values())


def judge(
    claim: str,
    kind: ClaimKind,
    seen: Iterable[Seen],
    part_names: Sequence[str],
    measured: Mapping[str, str],
) -> Judged:
    """Hold one claim against the evidence.

    Parameters
    ----------
    claim : str
        The seller's words.
    kind : ClaimKind
    seen : iterable of Seen
        Findings of the inspection.
    part_names : sequence of str
        All parts of the part list, for claims that speak of everything.
    measured : mapping of str to str
        Measurement key to its value in words.
    """
    parts = set(part_names) if ALL_PARTS in kind.parts else set(kind.parts)
    relevant = [s for s in seen if s.part in parts]
    against = [s for s in relevant if s.state in kind.against or s.gravity in kind.against]
    if against:
        return Judged(claim, kind.id, Verdict.CONTRADICTED, tuple(s.sentence for s in against))
    if kind.measure and kind.measure in measured:
        return Judged(claim, kind.id, Verdict.UPHELD, (measured[kind.measure],))
    missing = sorted(parts - {s.part for s in relevant})
    enough = {"all": not missing, "any": bool(relevant)}.get(kind.needs, False)
    if enough:
        return Judged(claim, kind.id, Verdict.UPHELD, tuple(s.sentence for s in relevant))
    wanting = f"not looked at: {', '.join(missing)}" if missing else "not measured"
    if kind.measure:
        wanting = f"needs the measurement {kind.measure.replace('_', ' ')}"
    return Judged(claim, kind.id, Verdict.NOT_TESTABLE, (wanting,))


def days_left(deadline: date, today: date) -> str:
    """Say how much of the return period is left."""
    days = (deadline - today).days
    if days < 0:
        return f"the return period ended {-days} days ago"
    return "the return period ends today" if days == 0 else f"{days} days left to return it"


def _says(sentence: str, kind: ClaimKind) -> bool:
    """Find the words, unless the sentence denies them: "not serviced" claims nothing."""
    for words in kind.words:
        match = re.search(rf"(?<!\w){re.escape(words)}(?!\w)", sentence)
        if match and not re.search(r"\b(not|un|never|no|without)\s*$", sentence[: match.start()]):
            return True
    return False
