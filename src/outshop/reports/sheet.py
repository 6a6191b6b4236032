"""What a release sheet says, frozen on the day, so that it prints the same ever after."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any

from outshop.errors import InputError
from outshop.estimate import Reading, reading_from_json


@dataclass(frozen=True, slots=True)
class Fact:
    """One cell of the title block."""

    label: str
    value: str


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One measured quantity before and after.

    Parameters
    ----------
    quantity : str
        Key such as ``level``; printed by its name in :mod:`outshop.reports.words`.
    before, after, change : Reading
        As the comparison gave them.
    verdict : str
        ``better``, ``worse``, ``no_provable_change``, ``not_comparable`` or ``changed``.
    reason : str
        Why, when it needs saying.
    """

    quantity: str
    before: Reading
    after: Reading
    change: Reading
    verdict: str
    reason: str = ""

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape of a comparison row."""
        shape: dict[str, Any] = {"quantity": self.quantity}
        for name in ("before", "after", "change"):
            shape[name] = getattr(self, name).as_json()
        return {**shape, "verdict": self.verdict, "reason": self.reason}

    @classmethod
    def from_json(cls, shape: Mapping[str, Any]) -> "SheetRow":
        """Read a row in the contract's shape.

        Raises
        ------
        InputError
            A key is missing.
        """
        try:
            return cls(
                str(shape["quantity"]),
                reading_from_json(shape["before"]),
                reading_from_json(shape["after"]),
                reading_from_json(shape["change"]),
                str(shape["verdict"]),
                str(shape.get("reason") or ""),
            )
        except (KeyError, TypeError) as problem:
            message = f"this is not a row of a comparison: {problem}"
            raise InputError(message) from problem


@dataclass(frozen=True, slots=True)
class RunInLine:
    """How it was run in: minutes each way and the highest readings, None when not taken."""

    forward_min: float
    reverse_min: float
    highest_c: float | None = None
    highest_a: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Spectrum:
    """Levels in dB over frequencies in Hz, before and after, of one length."""

    frequency_hz: tuple[float, ...]
    before_db: tuple[float, ...]
    after_db: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class ReleaseSheet:
    """Everything that is printed on a release sheet, and nothing else.

    Parameters
    ----------
    number, released_on : str
        The sheet's number and its day, ISO 8601 (``2026-03-01``).
    title : str
        Name of the piece.
    identity : tuple of Fact
        Edition, scale, arrangement and so on, for the title block.
    verdict : str
        ``better``, ``worse``, ``no_provable_change`` or ``not_comparable``.
    verdict_sentence : str
        What got better, in one or two sentences.
    found, done, parts_fitted : tuple of str
        One line each.
    rows : tuple of SheetRow
        Before and after.
    run_in : RunInLine or None
        How it was run in.
    cautions : tuple of str
        What the next person must know.
    remarks, signed_by : str
        Free words; the name under the line, empty to sign by hand.
    spectrum : Spectrum or None
        Drawn before and after when there is one.
    photo_sha256 : str
        Which picture of the store belongs to it.
    """

    number: str
    released_on: str
    title: str
    identity: tuple[Fact, ...] = ()
    verdict: str = "not_comparable"
    verdict_sentence: str = ""
    found: tuple[str, ...] = ()
    done: tuple[str, ...] = ()
    parts_fitted: tuple[str, ...] = ()
    rows: tuple[SheetRow, ...] = ()
    run_in: RunInLine | None = None
    cautions: tuple[str, ...] = ()
    remarks: str = ""
    signed_by: str = ""
    spectrum: Spectrum | None = None
    photo_sha256: str = ""

    def as_json(self) -> dict[str, Any]:
        """Give a plain shape to store; :meth:`from_json` reads it back."""
        return {**asdict(self), "rows": [row.as_json() for row in self.rows]}

    @classmethod
    def from_json(cls, shape: Mapping[str, Any]) -> "ReleaseSheet":
        """Read back what :meth:`as_json` wrote; keys of a newer version are left out.

        Raises
        ------
        InputError
            The shape is not that of a release sheet.
        """
        known = {f.name for f in fields(cls)}
        try:
            plain: dict[str, Any] = {
                key: tuple(item) if isinstance(item, list) else item
                for key, item in shape.items()
                if key in known
            }
            plain["identity"] = tuple(Fact(**fact) for fact in shape.get("identity", ()))
            plain["rows"] = tuple(SheetRow.from_json(row) for row in shape.get("rows", ()))
            if plain.get("run_in"):
                plain["run_in"] = RunInLine(**shape["run_in"])
            if plain.get("spectrum"):
                lists = {key: tuple(item) for key, item in shape["spectrum"].items()}
                plain["spectrum"] = Spectrum(**lists)
            return cls(**plain)
        except (AttributeError, TypeError) as problem:
            message = f"this is not a release sheet: {problem}"
            raise InputError(message) from problem
