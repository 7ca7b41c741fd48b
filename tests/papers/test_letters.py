import unicodedata

from bedstone.papers.letters import FONTS, showable


def test_the_fonts_ship_with_their_licence_and_are_small() -> None:
    """Regular and bold lie in the package, each under a megabyte, with licence and origin."""
    fonts = sorted(path.name for path in FONTS.glob("*.otf"))
    assert fonts == ["Inter-Bold.otf", "Inter-Regular.otf"]
    assert all((FONTS / name).stat().st_size < 1_000_000 for name in fonts)
    assert "SIL OPEN FONT LICENSE Version 1.1" in (FONTS / "OFL.txt").read_text()
    assert "Open Font License" in (FONTS / "NOTICE").read_text()


def test_letters_of_the_latin_greek_and_cyrillic_alphabets_are_kept() -> None:
    """Every printable letter of Latin-1 and Latin Extended-A, and of Greek and Russian, is shown."""
    for first, last in (
        (0x21, 0x7E),
        (0xA1, 0x17E),
        (0x391, 0x3A1),
        (0x3B1, 0x3C9),
        (0x410, 0x44F),
    ):
        text = "".join(chr(code) for code in range(first, last + 1))
        text = "".join(sign for sign in text if unicodedata.category(sign) != "Cf")
        text = text.replace("\N{LATIN SMALL LETTER N PRECEDED BY APOSTROPHE}", "")  # deprecated
        assert showable(text) == text


def test_signs_of_the_sheets_themselves_have_a_shape() -> None:
    """What the templates print beside the data is in the fonts too."""
    assert showable("▲ → ± · □") == "▲ → ± · □"


def test_letters_without_a_shape_become_one_square_each() -> None:
    """Other scripts become squares of the same number, blanks stay blanks, control signs go."""
    assert showable("中文 ok") == "□□ ok"
    assert showable("a\tb\nc\u00a0d") == "a b c d"
    assert showable("x\x00\x1b\u202ey\ue000") == "xy"
