"""The one place where papers become PDF and codes become bars.

What is printed goes to the template as JSON, never as markup, so no name can change the page.
"""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

from bedstone.papers.letters import FONTS, showable

if TYPE_CHECKING:
    import typst

__all__ = ["Barcode", "Printed", "barcode", "pdf"]

Printed = str | int | bool | None | Sequence["Printed"] | Mapping[str, "Printed"]
"""What a template is given: plain values, already in words and in the reader's units."""

TEMPLATES = Path(__file__).parent / "templates"
STANDARD: Final = "a-2b"
LONGEST_BARS = 24  # letters; a longer code is printed as a square code
SQUARE_MM = 26
BAR_MM = 0.34
PICTURE = "<svg "


@cache
def _fonts() -> "typst.Fonts":
    import typst

    return typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[str(FONTS)]
    )


def pdf(template: str, data: Mapping[str, Printed]) -> bytes:
    """A paper as PDF/A-2b; equal bytes for equal input.

    Parameters
    ----------
    template : str
        Name of the template, without its ending.
    data : mapping of str to plain values
        What it prints.

    Returns
    -------
    pdf : bytes
        The paper.
    """
    import typst

    return typst.compile(
        TEMPLATES / f"{template}.typ",
        root=TEMPLATES,
        font_paths=_fonts(),
        ignore_system_fonts=True,
        format="pdf",
        pdf_standards=STANDARD,
        sys_inputs={"data": json.dumps(_showable(data), ensure_ascii=False, sort_keys=True)},
    )


def _showable(value: Printed) -> Printed:
    """The same values with letters that the fonts can show."""
    match value:
        case str():
            return showable(value)
        case Mapping():
            return {key: _showable(item) for key, item in value.items()}
        case Sequence():
            return [_showable(item) for item in value]
        case _:
            return value


@dataclass(frozen=True, slots=True, kw_only=True)
class Barcode:
    """A code as a picture: black on white with its quiet zone, and how wide it is printed."""

    svg: str
    width_mm: int
    is_square: bool


@cache
def barcode(code: str) -> Barcode:
    """A code that a keyboard scanner types: bars (Code 128), a square (QR) when it is long.

    The narrowest bar is about a third of a millimetre (common practice for hand scanners, no
    source), a dot of the square half a millimetre or more.

    Parameters
    ----------
    code : str
        What is typed.

    Returns
    -------
    barcode : Barcode
        The picture and its width.

    Sources
    -------
    [1] ISO/IEC 15417 (Code 128), ISO/IEC 18004 (QR code), as written by the library.
    """
    import zxingcpp

    is_square = len(code) > LONGEST_BARS or not code.isascii()
    kind = zxingcpp.BarcodeFormat.QRCode if is_square else zxingcpp.BarcodeFormat.Code128
    svg = str(zxingcpp.write_barcode_to_svg(zxingcpp.create_barcode(code, kind)))
    svg = svg[svg.index(PICTURE) :]
    modules = int(svg.split('width="', 1)[1].split('"', 1)[0])
    svg = svg.replace(PICTURE, f'{PICTURE}preserveAspectRatio="none" ', 1)
    width_mm = SQUARE_MM if is_square else round(modules * BAR_MM)
    return Barcode(svg=svg, width_mm=width_mm, is_square=is_square)
