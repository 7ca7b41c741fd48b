"""Which letters the shipped fonts can show. PDF/A allows no letter without a shape."""

import struct
from functools import cache
from pathlib import Path

__all__ = ["FONTS", "showable"]

FONTS = Path(__file__).parent / "fonts"
NO_SHAPE = "\N{WHITE SQUARE}"
SPACES = "\t\n\r\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}\N{THIN SPACE}"
SEGMENTS, GROUPS = 4, 12  # formats of the table of letters that the fonts have


def showable(text: str) -> str:
    """Text with every letter that the fonts cannot show replaced by one sign for "no letter".

    Line breaks and tabs become spaces; invisible control signs are left out.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    text : str
        Text that can be printed.
    """
    letters = _letters()
    out = []
    for letter in text:
        if letter in SPACES:
            out.append(" ")
        elif letter.isprintable():
            out.append(letter if ord(letter) in letters else NO_SHAPE)
    return "".join(out)


@cache
def _letters() -> frozenset[int]:
    """Letters that every font of ours has a shape for."""
    sets = [_letters_of(path.read_bytes()) for path in sorted(FONTS.glob("*.otf"))]
    return frozenset.intersection(*sets)


def _letters_of(font: bytes) -> frozenset[int]:
    """Letters of an OpenType font, from its table "cmap".

    Sources
    -------
    [1] OpenType specification 1.9, chapter "cmap": format 4 (segments), format 12 (groups).
    """
    count = struct.unpack_from(">H", font, 4)[0]
    entries = (struct.unpack_from(">4sLLL", font, 12 + 16 * at) for at in range(count))
    start = next(offset for tag, _sum, offset, _length in entries if tag == b"cmap")
    tables = struct.unpack_from(">H", font, start + 2)[0]
    found: set[int] = set()
    for at in range(tables):
        platform, _code, offset = struct.unpack_from(">HHL", font, start + 4 + 8 * at)
        form = struct.unpack_from(">H", font, start + offset)[0]
        if platform in (0, 3) and form == SEGMENTS:
            found |= _segments(font, start + offset)
        elif platform in (0, 3) and form == GROUPS:
            found |= _groups(font, start + offset)
    return frozenset(found)


def _segments(font: bytes, at: int) -> set[int]:
    """Letters of a table in segments ([1] format 4)."""
    twice = struct.unpack_from(">H", font, at + 6)[0]
    count = twice // 2
    ends = struct.unpack_from(f">{count}H", font, at + 14)
    starts = struct.unpack_from(f">{count}H", font, at + 16 + twice)
    deltas = struct.unpack_from(f">{count}H", font, at + 16 + 2 * twice)
    offsets_at = at + 16 + 3 * twice
    offsets = struct.unpack_from(f">{count}H", font, offsets_at)
    found = set()
    for number, (first, last, delta) in enumerate(zip(starts, ends, deltas, strict=True)):
        for letter in range(first, min(last, 0xFFFE) + 1):
            shape = letter
            if offsets[number]:
                where = offsets_at + 2 * number + offsets[number] + 2 * (letter - first)
                shape = struct.unpack_from(">H", font, where)[0]
                if shape == 0:
                    continue
            if (shape + delta) & 0xFFFF:
                found.add(letter)
    return found


def _groups(font: bytes, at: int) -> set[int]:
    """Letters of a table in groups ([1] format 12)."""
    count = struct.unpack_from(">L", font, at + 12)[0]
    found: set[int] = set()
    for number in range(count):
        first, last, shape = struct.unpack_from(">LLL", font, at + 16 + 12 * number)
        found.update(letter for letter in range(first, last + 1) if shape + letter - first)
    return found
