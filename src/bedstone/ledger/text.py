"""The canonical text of a fact, and back. The text is what is kept and what the chain hashes.

The same fact always gives the same text: JSON with sorted names, no spaces, UTF-8 as it is, times
in UTC with microseconds and a Z, whole numbers for masses, no entry where there is nothing to say.
"""

import datetime as dt
import json
import math
import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Any, Final

from bedstone.errors import BadInput
from bedstone.ledger.model import Fact, How, Json, Lot, LotKind, Movement, Reading

__all__ = ["check_fact", "fact_from_text", "fact_text", "time_from_text", "time_text"]

MASS_LIMIT_MG: Final = 2**63
_KIND: Final = re.compile(r"[a-z][a-z_]*\.[a-z][a-z0-9_]*/[1-9][0-9]*")
_LOT: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}")
_PLACE: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._>/ -]{0,127}")
_DEEPEST: Final = 32
_HOW: Final[dict[str, str]] = {how: how.value for how in How}
_written: Final = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
).encode


def time_text(moment: dt.datetime, *, what: str = "time") -> str:
    """Return a time as ISO text in UTC with microseconds and a Z.

    Raises
    ------
    BadInput
        If the time has no zone.
    """
    if moment.tzinfo is None or moment.utcoffset() is None:
        raise BadInput(
            f"The {what} has no time zone.",
            seen=moment.isoformat(),
            allowed="a time with its zone",
            do="say in which zone the clock stands",
        )
    return moment.astimezone(dt.UTC).isoformat(timespec="microseconds")[:-6] + "Z"


def time_from_text(text: str) -> dt.datetime:
    """Return the aware UTC time of an ISO text."""
    return dt.datetime.fromisoformat(text).astimezone(dt.UTC)


def check_fact(fact: Fact) -> None:
    """Pass if the fact may be kept, else raise.

    Raises
    ------
    BadInput
        If the kind is not ``room.name/1``, a time has no zone, nobody is named, a mass is not a
        whole number above zero, a place is its own destination, a code holds other signs than
        letters, digits, "." "_" "-", or the content holds what JSON cannot say exactly.
    """
    if not _KIND.fullmatch(fact.kind):
        raise BadInput(
            "The kind of a fact is wrong.",
            seen=repr(fact.kind),
            allowed="room.name/version in small letters, such as receiving.load_accepted/1",
        )
    time_text(fact.happened_at, what=f"happened_at of {fact.kind}")
    if not fact.by.strip():
        raise BadInput(f"{fact.kind} does not say by whom.", do="name the person")
    _check_text(fact.by, where=f"by of {fact.kind}")
    for line, movement in enumerate(fact.movements, start=1):
        _check_movement(movement, where=f"movement {line} of {fact.kind}")
    _check_lots(fact)
    if not isinstance(fact.content, Mapping):
        raise BadInput(f"The content of {fact.kind} is not a table of names and values.")
    _check_content(fact.content, where=f"content of {fact.kind}", depth=0)


def fact_text(fact: Fact, *, position: int, recorded_at: dt.datetime) -> str:
    """Return the canonical text of a fact at its position.

    Raises
    ------
    BadInput
        If the fact may not be kept; see :func:`check_fact`.
    """
    check_fact(fact)
    whole: dict[str, Any] = {
        "position": position,
        "recorded_at": time_text(recorded_at, what="recorded_at"),
        "kind": fact.kind,
        "happened_at": time_text(fact.happened_at),
        "by": fact.by,
        "content": fact.content,
    }
    if fact.movements:
        whole["movements"] = [_movement_out(movement) for movement in fact.movements]
    if fact.lots:
        whole["lots"] = [
            {"lot": row.lot, "kind": row.kind.value, "material": row.material} for row in fact.lots
        ]
    return _written(whole)


def fact_from_text(text: str) -> tuple[int, dt.datetime, Fact]:
    """Return position, time of recording and the fact that a canonical text holds.

    Raises
    ------
    BadInput
        If the text is not that of a fact.
    """
    try:
        whole = json.loads(text)
        fact = Fact(
            kind=whole["kind"],
            happened_at=time_from_text(whole["happened_at"]),
            by=whole["by"],
            content=whole["content"],
            movements=tuple(_movement_in(row) for row in whole.get("movements", ())),
            lots=tuple(
                Lot(lot=row["lot"], kind=LotKind(row["kind"]), material=row["material"])
                for row in whole.get("lots", ())
            ),
        )
        position = whole["position"]
        if not _is_whole(position):
            raise BadInput("The text of a fact has no position.", seen=repr(position))
        return position, time_from_text(whole["recorded_at"]), fact
    except (AttributeError, KeyError, TypeError, ValueError, RecursionError) as error:
        raise BadInput(
            "A text is not that of a fact.", seen=_short(text), do="run bedstone verify"
        ) from error


def _is_whole(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _short(text: object) -> str:
    shown = repr(text)
    return shown if len(shown) <= 80 else shown[:77] + "..."  # noqa: PLR2004 - width of a line


def _check_text(text: str, *, where: str) -> None:
    """Refuse text that UTF-8 cannot hold, and the sign nought, which databases cut at."""
    if not isinstance(text, str):
        raise BadInput(f"{where} is not text.", seen=_short(text))
    if text.isascii() and "\0" not in text:
        return
    try:
        text.encode()
    except UnicodeEncodeError as error:
        raise BadInput(f"{where} holds a sign that is not text.", seen=_short(text)) from error
    if "\0" in text:
        raise BadInput(f"{where} holds a sign that is not text.", seen=_short(text))


def _check_movement(movement: Movement, *, where: str) -> None:
    mass = movement.mass_mg
    if type(mass) is not int or not 0 < mass < MASS_LIMIT_MG:
        raise BadInput(
            f"The mass of {where} is wrong.",
            seen=_short(mass),
            allowed="whole milligrams, above 0 and below 2^63",
        )
    target, spread = movement.target_mg, movement.mass_sd_mg
    if type(spread) is not int or not 0 <= spread < MASS_LIMIT_MG:
        raise _wrong_mass("standard deviation", where, spread)
    if target is not None and (type(target) is not int or not 0 <= target < MASS_LIMIT_MG):
        raise _wrong_mass("target", where, target)
    if movement.how not in _HOW:
        raise BadInput(
            f"How the mass of {where} is known is wrong.",
            seen=_short(movement.how),
            allowed=", ".join(_HOW.values()),
        )
    for place in (movement.from_place, movement.to_place):
        if not isinstance(place, str) or not _is_place(place):
            raise BadInput(
                f"A place of {where} is wrong.",
                seen=_short(place),
                allowed="a bin, a machine, or an outside place such as supplier/FIRM",
            )
    if movement.from_place == movement.to_place:
        raise BadInput(
            f"{where} goes nowhere.", seen=movement.from_place, allowed="two different places"
        )
    _check_codes(movement, where=where)


def _wrong_mass(name: str, where: str, value: object) -> BadInput:
    return BadInput(
        f"The {name} of {where} is wrong.",
        seen=_short(value),
        allowed="whole milligrams, 0 or above",
    )


@lru_cache(maxsize=4096)
def _is_place(place: str) -> bool:
    return _PLACE.fullmatch(place) is not None


@lru_cache(maxsize=4096)
def _is_material(code: str) -> bool:
    return _LOT.fullmatch(code) is not None


def _check_codes(movement: Movement, *, where: str) -> None:
    if not isinstance(movement.material, str) or not _is_material(movement.material):
        raise BadInput(f"The material of {where} is wrong.", seen=_short(movement.material))
    if movement.lot is not None:
        _check_lot_code(movement.lot, where=where)
    _check_text(movement.instrument, where=f"instrument of {where}")
    if movement.seen is not None:
        for value in (movement.seen.number, movement.seen.unit, movement.seen.division):
            _check_text(value, where=f"reading of {where}")


def _check_lot_code(code: str, *, where: str) -> None:
    if not isinstance(code, str) or not _LOT.fullmatch(code):
        raise BadInput(
            f"The lot of {where} is wrong.",
            seen=_short(code),
            allowed='1 to 64 letters, digits, ".", "_" or "-", beginning with a letter or digit',
        )


def _check_lots(fact: Fact) -> None:
    seen: set[str] = set()
    for row in fact.lots:
        _check_lot_code(row.lot, where=fact.kind)
        if not isinstance(row.material, str) or not _LOT.fullmatch(row.material):
            raise BadInput(f"The material of lot {row.lot} is wrong.", seen=_short(row.material))
        if row.lot in seen:
            raise BadInput(
                f"{fact.kind} makes a lot twice.", seen=row.lot, allowed="each lot once in a fact"
            )
        seen.add(row.lot)


def _check_content(value: Json, *, where: str, depth: int) -> None:
    """Walk plain values; anything that JSON would say otherwise than it is gets refused."""
    if value is None or isinstance(value, bool | int):
        return
    if isinstance(value, float):
        if not math.isfinite(value):
            raise BadInput(
                f"The {where} holds a number that is not finite.",
                seen=repr(value),
                allowed="finite numbers, or nothing",
            )
        return
    if isinstance(value, str):
        _check_text(value, where=where)
        return
    if depth > _DEEPEST:
        raise BadInput(f"The {where} is nested too deeply.", allowed=f"{_DEEPEST} levels")
    if isinstance(value, list | tuple):
        for item in value:
            _check_content(item, where=where, depth=depth + 1)
    elif isinstance(value, dict):
        for name, item in value.items():
            _check_text(name, where=f"{where} (a name)")
            _check_content(item, where=f"{where}, {name}", depth=depth + 1)
    else:
        raise BadInput(
            f"The {where} holds a value that is not plain.",
            seen=f"{type(value).__name__} {_short(value)}",
            allowed="text, numbers, true, false, nothing, lists and tables of these",
        )


def _movement_out(movement: Movement) -> dict[str, Any]:
    out: dict[str, Any] = {
        "from": movement.from_place,
        "to": movement.to_place,
        "mass_mg": movement.mass_mg,
        "material": movement.material,
        "how": _HOW[movement.how],
    }
    if movement.instrument:
        out["instrument"] = movement.instrument
    if movement.seen is not None:
        seen = {"number": movement.seen.number, "unit": movement.seen.unit}
        if movement.seen.division:
            seen["division"] = movement.seen.division
        out["seen"] = seen
    if movement.target_mg is not None:
        out["target_mg"] = movement.target_mg
    if movement.mass_sd_mg:
        out["mass_sd_mg"] = movement.mass_sd_mg
    if movement.lot is not None:
        out["lot"] = movement.lot
    return out


def _movement_in(row: Mapping[str, Any]) -> Movement:
    seen = row.get("seen")
    return Movement(
        from_place=row["from"],
        to_place=row["to"],
        mass_mg=row["mass_mg"],
        material=row["material"],
        how=How(row["how"]),
        instrument=row.get("instrument", ""),
        seen=None if seen is None else Reading(**seen),
        target_mg=row.get("target_mg"),
        mass_sd_mg=row.get("mass_sd_mg", 0),
        lot=row.get("lot"),
    )
