"""The one place where papers become PDF and codes become bars.

What is printed goes to the template as JSON, never as markup, so no name can change the page.
"""

import json
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

from bedstone.papers.letters import FONTS, showable

if TYPE_CHECKING:
    import typst

__all__ = ["Printed", "barcode_svg", "pdf"]

Printed = str | int | bool | None | Sequence["Printed"] | Mapping[str, "Printed"]
"""What a template is given: plain values, already in words and in the reader's units."""

TEMPLATES = Path(__file__).parent / "templates"
STANDARD: Final = "a-2b"
LONGEST_BARS = 24  # letters; a longer code is printed as a square code
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


@cache
def barcode_svg(code: str) -> str:
    """A code that a keyboard scanner types: bars (Code 128), a square (QR) when it is long.

    Parameters
    ----------
    code : str
        What is typed.

    Returns
    -------
    svg : str
        Black on white, with its quiet zone.

    Sources
    -------
    [1] ISO/IEC 15417 (Code 128), ISO/IEC 18004 (QR code), as written by the library.
    """
    import zxingcpp

    is_long = len(code) > LONGEST_BARS or not code.isascii()
    kind = zxingcpp.BarcodeFormat.QRCode if is_long else zxingcpp.BarcodeFormat.Code128
    svg = str(zxingcpp.write_barcode_to_svg(zxingcpp.create_barcode(code, kind)))
    return svg[svg.index(PICTURE) :]
