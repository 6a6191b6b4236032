"""Wheel arrangements: what a person types becomes units, groups and axles.

UIC (``1'D1'``), Whyte (``2-8-2``), bogie letters with hyphens (``Bo-Bo``, ``A1A-A1A``), axle
counts as digits (``231``) and digits with a letter (``21C``) are told apart by their form.
"""

import re
from dataclasses import replace

from outshop.errors import NotationError
from outshop.railway import uic, whyte
from outshop.railway.axle_groups import Arrangement, Axle, AxleGroup, Unit
from outshop.railway.spellings import hyphened_letters, tidy

__all__ = ["Arrangement", "Axle", "AxleGroup", "Unit", "parse", "to_uic", "to_whyte"]

_CLASS = r"(?:tr|t|G|P|S|Z|Turb|Tu|E)*"  # class letters; only behind a small letter
_SUFFIX = re.compile(
    rf"(?P<body>.*?)(?P<suffix>(?:(?:[hn]\d?v?|v|tr|t){_CLASS})?(?:T\d+(?:[.,]\d+)?)?)"
)
# old lists leave the primes out; 1A1, 1B and B1 were truly rigid
_UNPRIMED = re.compile(r"[2-4][A-H]o?\d?|\d?[C-H]o?[1-4]|\d[C-H]o?")
_WHYTE_SUFFIX = re.compile(r"(?P<body>[\d+-]*\d)\s*(?P<suffix>\(?\+?[A-Za-z]{0,4}\)?)")


def parse(text: str, *, tender: str = "", hauled: bool = False) -> Arrangement:
    """Read a wheel arrangement.

    Parameters
    ----------
    text : str
        Engine, or engine and tender joined by ``+``: ``1'D1'+2'2'``. A unit of carrying axles
        alone is a tender behind a coupled engine, a trailer behind separate motors.
    tender : str
        The tender's axles when they are given apart.
    hauled : bool
        A coach or wagon, such as ``2'2'``, is taken too; else one axle at least must be driven.

    Raises
    ------
    NotationError
        It is no wheel arrangement; the sentence says where it fails.
    """
    written = tidy(text)
    arrangement = _read(written, text.strip())
    if tender.strip():
        groups = uic.read_unit(tidy(tender))
        arrangement = replace(arrangement, units=(*arrangement.units, Unit(groups, kind="tender")))
    if not (hauled or arrangement.driven_axles):
        message = f"{text!r} has no driven axle: driven axles are letters (A one, B two, ...)"
        raise NotationError(message)
    return arrangement


def to_uic(arrangement: Arrangement) -> str:
    """Write in UIC notation, class letters included."""
    return arrangement.uic + arrangement.suffix


def to_whyte(arrangement: Arrangement) -> str | None:
    """Write in Whyte notation, or None where that cannot say it."""
    return whyte.write(arrangement.units)


def _read(written: str, shown: str) -> Arrangement:
    if not written:
        message = "the wheel arrangement is empty: type one such as 1'D1' or 2-8-2"
        raise NotationError(message)
    if swiss := re.fullmatch(r"(\d)/(\d{1,2})", written):
        return _driven_of_total(int(swiss[1]), int(swiss[2]), shown)
    if re.fullmatch(r"\d{3}(?:\+\d{3})*", written):
        wheels = "+".join("-".join(str(2 * int(n)) for n in u) for u in written.split("+"))
        note = f"{shown} read as axles leading, driven, trailing: {wheels} in wheels"
        return Arrangement(whyte.read_units(wheels), notes=(note,))
    if (match := _WHYTE_SUFFIX.fullmatch(written)) and whyte.PATTERN.fullmatch(match["body"]):
        return Arrangement(whyte.read_units(match["body"]), suffix=match["suffix"])
    if bulleid := re.fullmatch(r"(\d)(\d)([A-H])", written):
        lead, trail, letter = bulleid.groups()
        note = f"{shown} read as {lead} leading, {trail} trailing axles, {letter} driven"
        units = (Unit(uic.read_unit(f"{lead}'{letter}{trail}'")),)
        return Arrangement(units, notes=(note,))
    return _read_letters(written, shown)


def _read_letters(written: str, shown: str) -> Arrangement:
    match = _SUFFIX.fullmatch(written)
    body, suffix = (match["body"], match["suffix"]) if match else (written, "")
    notes: list[str] = []
    if "-" in body:
        body = hyphened_letters(body)
        notes.append(f"{shown} read as {body}")
    if _UNPRIMED.fullmatch(body):
        notes.append(f"{shown} read as rigid, as written; for a bogie type a prime, as in 2'C1'")
    texts = body.split("+")
    if not all(texts):
        message = f"{shown!r}: there is nothing beside a +"
        raise NotationError(message)
    units = [Unit(uic.read_unit(t)) for t in texts]
    return Arrangement(_with_kinds(units), suffix, tuple(notes))


def _with_kinds(units: list[Unit]) -> tuple[Unit, ...]:
    """Tell tenders and trailers: units without a driven axle."""
    motors = any(g.own_motors for u in units for g in u.groups)
    return tuple(
        u
        if any(g.driven for g in u.groups)
        else replace(u, kind="trailer" if motors or place == 0 else "tender")
        for place, u in enumerate(units)
    )


def _driven_of_total(driven: int, total: int, shown: str) -> Arrangement:
    if driven != total or not driven:
        message = (
            f"{shown!r} tells {driven} driven of {total} axles but not their order: "
            "type the order, such as 2'C1' or 4-6-2"
        )
        raise NotationError(message)
    return Arrangement((Unit((AxleGroup(driven, driven=True),)),))
