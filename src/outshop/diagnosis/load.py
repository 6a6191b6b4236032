"""Load the knowledge tables, the shipped ones and those a club has added."""

from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from pathlib import Path

from outshop.diagnosis.entries import Entry, entries_of
from outshop.diagnosis.knowledge_base import Knowledge
from outshop.diagnosis.model import (
    Cause,
    Check,
    Group,
    Pattern,
    Quantity,
    Side,
    Sign,
    Stop,
    Verdict,
    Weighting,
    When,
)
from outshop.diagnosis.terms import KINDS
from outshop.errors import KnowledgeError

SHIPPED = Path(str(files("outshop.diagnosis") / "knowledge"))
DEFAULT_LEAK = 0.5  # share of "else" that is a bystander, there without any cause; judgement


@cache
def shipped_knowledge() -> Knowledge:
    """Give the knowledge that comes with Outshop, read once."""
    return load_knowledge()


def load_knowledge(*added: Path) -> Knowledge:
    """Read the shipped tables, then those of each added folder of the same layout.

    Raises
    ------
    KnowledgeError
        An entry is wrong; the sentence names file, entry and cure.
    """
    folders = (SHIPPED, *added)
    for folder in added:
        if not folder.is_dir():
            message = f"there is no knowledge folder {folder}; check the name"
            raise KnowledgeError(message)
    checks, outcomes = [], []
    for entry in _all(folders, "checks/*.toml", "check"):
        check, outcome = _check(entry)
        checks.append(check)
        outcomes.extend(outcome)
    signs = [_sign(e, kind) for kind, e in _signs(folders)]
    return Knowledge(
        groups=tuple(_group(e) for e in _all(folders, "groups.toml", "group")),
        causes=tuple(_cause(e) for e in _all(folders, "causes/*.toml", "cause")),
        signs=(*signs, *outcomes),
        patterns=tuple(_pattern(e) for e in _all(folders, "patterns.toml", "pattern")),
        checks=tuple(checks),
        quantities=tuple(_quantity(e) for e in _all(folders, "quantities.toml", "quantity", "key")),
        stops=tuple(_stop(e) for e in _all(folders, "stops.toml", "stop")),
    )


def _all(folders: tuple[Path, ...], pattern: str, table: str, key: str = "id") -> Iterator[Entry]:
    for folder in folders:
        for file in sorted(folder.glob(pattern)):
            yield from entries_of(file, table, key)


def _signs(folders: tuple[Path, ...]) -> Iterator[tuple[str, Entry]]:
    for folder in folders:
        for file in sorted(folder.glob("signs/*.toml"), key=_kind_order):
            for entry in entries_of(file, "sign"):
                yield file.stem, entry


def _kind_order(file: Path) -> int:
    if file.stem not in KINDS:
        message = f"{file.name}: files under signs/ are named by kind: {', '.join(KINDS[:-1])}"
        raise KnowledgeError(message)
    return KINDS.index(file.stem)


def _weighting(entry: Entry) -> Weighting:
    return Weighting(
        system=entry.factors("system"),
        motor=entry.factors("motor"),
        years=entry.factors("years"),
        history=entry.factors("history"),
        outline=entry.factors("outline"),
    )


def _group(entry: Entry) -> Group:
    group = Group(
        id=entry.text("id"),
        name=entry.text("name"),
        family=entry.text("family"),
        weight=entry.number("weight"),
        context=_weighting(entry),
        why=entry.text("why"),
        source=entry.text("source"),
    )
    entry.done()
    return group


def _cause(entry: Entry) -> Cause:
    cause = Cause(
        id=entry.text("id"),
        group=entry.text("group"),
        name=entry.text("name"),
        share=entry.probability("share"),
        place=entry.texts("place"),
        confirm=entry.text("confirm"),
        remedy=entry.text("remedy"),
        minutes=entry.number("minutes"),
        cautions=entry.texts("cautions"),
        source=entry.text("source"),
        context=_weighting(entry),
        signs=entry.probabilities("signs"),
    )
    entry.done()
    return cause


def _when(entry: Entry) -> When:
    when = When(
        system=entry.texts("system"),
        motor=entry.texts("motor"),
        years=entry.texts("years"),
        group=entry.probabilities("group"),
        cause=entry.probabilities("cause"),
    )
    entry.done()
    return when


def _sign(entry: Entry, kind: str) -> Sign:
    history = kind == "history"
    healthy = entry.flag("healthy")
    otherwise = entry.probability("else", 0.0 if history or healthy else None)
    sign = Sign(
        id=entry.text("id"),
        kind=kind,
        asks=entry.text("asks"),
        why=entry.text("why", "" if history else None),
        healthy=healthy,
        usual=entry.probability("usual", None if healthy else 0.0),
        otherwise=otherwise,
        leak=entry.probability("leak", otherwise * DEFAULT_LEAK),
        frequency=entry.probability("frequency", None if history else 0.0),
        implies=entry.texts("implies"),
        excludes=entry.texts("excludes"),
        family=entry.probabilities("family"),
        group=entry.probabilities("group"),
        cause=entry.probabilities("cause"),
        when=tuple(_when(w) for w in entry.tables("when")),
    )
    entry.done()
    return sign


def _pattern(entry: Entry) -> Pattern:
    pattern = Pattern(
        id=entry.text("id"),
        yes=entry.texts("yes"),
        no=entry.texts("no"),
        system=entry.texts("system"),
        motor=entry.texts("motor"),
        years=entry.texts("years"),
        factor=entry.factors("factor"),
        why=entry.text("why"),
        source=entry.text("source"),
    )
    entry.done()
    return pattern


def _check(entry: Entry) -> tuple[Check, list[Sign]]:
    outcome = entry.table("outcome")
    own = [_outcome(entry.part("outcome", outcome))] if outcome else []
    check = Check(
        id=entry.text("id"),
        name=entry.text("name"),
        minutes=entry.number("minutes", low=0.1),
        opens=entry.text("opens"),
        power=entry.flag("power"),
        risk_model=int(entry.number("risk_model")),
        risk_person=int(entry.number("risk_person")),
        cautions=entry.texts("cautions"),
        tells=(*entry.texts("tells"), *(sign.id for sign in own)),
        system=entry.texts("system"),
        motor=entry.texts("motor"),
        means=str(outcome.get("means", "")),
        else_means=str(outcome.get("else_means", "")),
        source=entry.text("source"),
    )
    entry.done()
    if not check.tells:
        raise entry.fault("tells nothing; give it 'tells' or an outcome")
    return check, own


def _outcome(entry: Entry) -> Sign:
    otherwise = entry.probability("else")
    entry.text("means")
    entry.text("else_means")
    sign = Sign(
        id=entry.text("id"),
        kind="check",
        asks=entry.text("asks"),
        otherwise=otherwise,
        leak=entry.probability("leak", otherwise * DEFAULT_LEAK),
        cause=entry.probabilities("shows"),  # Knowledge sorts causes from groups
    )
    entry.done()
    return sign


def _side(entry: Entry, key: str) -> Side | None:
    table = entry.table(key)
    if not table:
        return None
    part = entry.part(key, table)
    others = {k: part.number(k) for k in table if k not in ("sign", "limit")}
    side = Side(part.text("sign"), part.number("limit"), others)
    part.done()
    return side


def _quantity(entry: Entry) -> Quantity:
    scale = entry.text("scale")
    if scale not in ("ratio", "plain", "word"):
        raise entry.fault(f"'scale' is '{scale}'; write ratio, plain or word")
    verdicts = {}
    for word, said in entry.table("verdicts").items():
        part = entry.part(f"verdict {word}", said)
        verdicts[word] = Verdict(part.texts("yes"), part.texts("no"))
        part.done()
    quantity = Quantity(
        key=entry.text("key"),
        name=entry.text("name"),
        unit=entry.text("unit", ""),
        scale=scale,
        blur=entry.number("blur"),
        same_as=entry.texts("same_as"),
        above=_side(entry, "above"),
        below=_side(entry, "below"),
        verdicts=verdicts,
        source=entry.text("source"),
        also=entry.texts("also"),
    )
    entry.done()
    if scale == "ratio" and quantity.blur <= 1:
        raise entry.fault(f"'blur' is {quantity.blur}; on a ratio scale it must exceed 1")
    return quantity


def _stop(entry: Entry) -> Stop:
    stop = Stop(
        id=entry.text("id"),
        says=entry.text("says"),
        signs=entry.texts("signs"),
        group=entry.text("group", ""),
        above=entry.probability("above", 1.0),
        years=entry.texts("years"),
        cleared_by=entry.texts("cleared_by"),
        no_power=entry.flag("no_power"),
        source=entry.text("source"),
    )
    entry.done()
    return stop
