"""The pages of additives and heat: against the tag, the picture and its table, the mill's own trials."""

import datetime as dt
import re
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree as ET

import pytest

from bedstone.desk.assays import assay_fact
from bedstone.desk.line_settings import settings_for
from bedstone.desk.revisions import current_mill
from bedstone.mill.model import Assay
from bedstone.quantities.line_figures import amount_words
from fakes.line_runs import RUN, made, read
from fakes.page_line import EARLY, line_pages
from fakes.page_server import PageMill

SVG = "{http://www.w3.org/2000/svg}"
OWN = "/pellet-line/additives/own"
CULTURE = "VTM-H:live culture in the premix"


@pytest.fixture(scope="module")
def line(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageMill]:
    """The demo mill, only read."""
    with line_pages(tmp_path_factory.mktemp("heat")) as served:
        yield served


def picture(text: str) -> ET.Element:
    """The one picture of a page, read strictly."""
    (found,) = re.findall(r"<svg xmlns.*?</svg>", text, re.DOTALL)
    return ET.fromstring(found)  # noqa: S314 - our own page


def asked(**cells: str) -> str:
    """The address of trials typed into the form, for the live culture."""
    words = {"which": CULTURE, **cells}
    return f"{OWN}?" + "&".join(f"{name}={text}" for name, text in words.items())


def test_what_is_left_is_held_against_the_tag(line: PageMill) -> None:
    """Amounts in the tag's unit with their interval, and what the tag guarantees, stand as the desk
    has them; the picture has band, tag and settings, and says the same in words.
    """
    text = line.visitor().get("/pellet-line/additives?on=PL2:HORSE-SUP").text
    (row,) = settings_for(line.record, "HORSE-SUP", "PL2", at=EARLY).additives
    assert row.tag is not None
    low, middle, high = (
        amount_words(row.tag.put_in * one)
        for one in (row.left.left_lo, row.left.left, row.left.left_hi)
    )
    said = (
        f"about {middle} million CFU/g of live culture is left at the bag ({low} to {high}); the tag "
        "guarantees 1.00 million CFU/g"
    )
    assert said in text
    drawn = picture(text)
    assert said in drawn.attrib["aria-label"]
    assert len(drawn.findall(f"{SVG}polygon[@class='interval']")) == 1
    words = [one.text for one in drawn.findall(f"{SVG}text")]
    assert "tag: 1.00" in words
    assert row.hottest_c is not None
    assert f"hottest: {row.hottest_c * 1.8 + 32:.0f}" in words
    for where, lost in row.left.lost_by_step:
        assert f"{where} {100 * lost:.0f} %" in text


def test_the_table_says_what_the_picture_shows(line: PageMill) -> None:
    """Each setting of the curve is a row, and "surely" ends at the hottest that surely keeps it."""
    text = line.visitor().get("/pellet-line/additives?on=PL2:HORSE-SUP").text
    (row,) = settings_for(line.record, "HORSE-SUP", "PL2", at=EARLY).additives
    rows = re.findall(r'<th scope="row">(\d+) °F</th>.*?<td>(surely|not surely|no)</td>', text)
    assert [float(f) for f, _ in rows] == pytest.approx([one[0] * 1.8 + 32 for one in row.curve])
    assert row.hottest_c is not None
    for degrees, enough in rows:
        assert (enough == "surely") == (float(degrees) <= row.hottest_c * 1.8 + 32)


def test_what_more_it_would_take_stands_in_amounts_and_money(line: PageMill) -> None:
    """More than the inclusions table allows is no figure to mix: no pounds, other ways instead."""
    text = line.visitor().get("/pellet-line/additives?on=PL1:BROIL-ST").text
    (row,) = settings_for(line.record, "BROIL-ST", "PL1", at=EARLY).additives
    assert row.overage is not None
    assert row.overage.more_frac > 0
    assert row.tag is not None
    assert f"{row.overage.share_needed_frac / row.tag.share_frac:.1f} times the formula's" in text
    assert f"{amount_words(2000 * row.overage.more_frac)} lb/ton" not in text
    assert "more than the inclusions table allows" in text
    assert "may be too hot" in text


def test_where_the_tag_says_nothing_the_share_of_the_table_judges(line: PageMill) -> None:
    """A feed whose tag does not guarantee it says so and is judged by the share that is wanted."""
    text = line.visitor().get("/pellet-line/additives?on=PL2:RABBIT-16").text
    assert "guarantees no least amount of live culture" in text
    assert "50 % is wanted" in text


def test_a_feed_without_such_an_additive_says_so(line: PageMill) -> None:
    """Nothing is reckoned; that is no all-clear, and the premix without a row is named."""
    none = line.visitor().get("/pellet-line/additives?on=PL1:SHEEP-GR").text
    assert "That is no all-clear" in none
    assert "no row for Vitamin and trace mineral premix, sheep" in none


def test_all_that_is_known_stands_with_where_it_was_measured(line: PageMill) -> None:
    """Bath and pilot mill stand side by side, the mill's counts; memory carries its warning."""
    text = line.visitor().get("/pellet-line/additives?on=PL2:HORSE-SUP").text
    rows = dict(re.findall(r'<th scope="row">(a [a-z ]+)</th>.*?<td>(yes|no)', text))
    assert rows == {"a pilot mill": "yes", "a laboratory bath": "no"}
    assert "from memory" in line.visitor().get("/pellet-line/additives?on=PL1:BROIL-ST").text


def test_the_next_run_judges_by_the_tag(line: PageMill) -> None:
    """The page of the next run says what is left against the tag, and that it may be too hot."""
    text = line.visitor().get("/pellet-line?on=PL1:BROIL-ST").text
    assert "the tag guarantees 7,500 IU/kg" in text
    assert "may be too hot: enough in the middle" in text


def test_own_samples_give_d_with_its_interval(line: PageMill) -> None:
    """A tenth left after 40 s at 167 F is a D of 40 s there, between the ends of the assays' error;
    nothing is offered to whoever may not change tables.
    """
    cells = {"before_0": "2.0", "after_0": "0.2", "at_0": "167", "s_0": "40", "error": "10"}
    text = line.visitor().get(asked(**cells)).text
    assert "To a tenth (D) at 167 °F</dt><dd>40.0 s" in text
    assert re.search(r"from 36\.\d to 44\.\d s nine times in ten, by 10 % error", text)
    assert "Put it into the tables" not in text
    assert "Put it into the tables" in line.visitor("dell").get(asked(**cells)).text


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({"after_0": "0"}, "A count of nothing"),
        ({"after_0": "9"}, "More was found after the heat than before it"),
        ({"after_0": "2"}, "cannot be told from the errors"),
        ({"at_0": "900"}, "from 68 to 248 degrees F"),
        ({"s_0": "0"}, "a number above 0"),
        ({"s_0": ""}, "A trial lacks something"),
        ({"at_0": "warm"}, "The temperature cannot be right"),
        ({"z": "-4"}, "The z value cannot be right"),
        ({"error": "0"}, "The error of one assay cannot be right"),
        ({"which": "NIX:culture"}, "has no culture of"),
    ],
)
def test_samples_that_say_nothing_are_refused_in_words(
    line: PageMill, cells: dict[str, str], said: str
) -> None:
    """What cannot be is named with what is allowed, and what was typed is still there."""
    typed = {"before_0": "2", "after_0": "0.2", "at_0": "167", "s_0": "40"}
    answer = line.visitor().get(asked(**{**typed, **cells}))
    assert 400 <= answer.status_code < 500
    assert said in answer.text
    assert 'value="2"' in answer.text


def test_own_samples_come_into_the_tables_and_count(tmp_path: Path) -> None:
    """Kept by whoever may change tables, the mill's own row is nearest and judges from then on; a
    second one takes the place of the first.
    """
    with line_pages(tmp_path) as mill:
        dell = mill.visitor("dell")
        for after in ("1.2", "1.4"):
            cells = {"which": CULTURE, "before_0": "2", "after_0": after, "at_0": "158", "s_0": "60",
                     "before_1": "2", "after_1": after, "at_1": "160", "s_1": "60"}  # fmt: skip
            answer = dell.post(OWN, page=asked(**cells), **cells)
            assert answer.status_code == 303
        rows = [
            row for row in current_mill(mill.record).heat_sensitive if row.ingredient == "VTM-H"
        ]
        (own,) = [row for row in rows if row.measured == "this mill"]
        assert len(rows) == 3
        assert "2 before, 1.4 after in 60 s at 158 °F" in own.source
        (judged,) = settings_for(mill.record, "HORSE-SUP", "PL2", at=EARLY).additives
        assert [one.measured for one in judged.known if one.counts] == ["this mill"]
        text = dell.get("/pellet-line/additives?on=PL2:HORSE-SUP&done=own").text
        assert '<th scope="row">this mill</th>' in text
        assert "Kept in the tables" in text


def test_own_samples_are_kept_only_by_who_may_change_tables(tmp_path: Path) -> None:
    """A pellet operator is refused, and nothing is written."""
    with line_pages(tmp_path) as mill:
        operator = next(
            one.person for one in current_mill(mill.record).people if one.role == "pellet operator"
        )
        before = mill.record.head()
        cells = {"which": CULTURE, "before_0": "2", "after_0": "1", "at_0": "158", "s_0": "60"}
        visitor = mill.visitor(operator)
        answer = visitor.post(OWN, hidden=visitor.fields("/sign-in"), **cells)
        assert answer.status_code in {403, 409}
        assert mill.record.head() == before


def test_a_mill_without_the_tables_is_told_which(read_mill: PageMill) -> None:
    """Both pages answer in a mill that has no such tables."""
    for path in ("/pellet-line/additives", OWN):
        assert read_mill.visitor().get(path).status_code == 200, path


def test_assays_of_bagged_feed_stand_on_the_page_and_become_trials(tmp_path: Path) -> None:
    """A result of a logged run stands beside what was reckoned there; its button leads to a D with
    its interval.
    """
    at = EARLY - dt.timedelta(days=1)
    row = Assay(
        assay="A-1", nutrient="live culture", of="HORSE-SUP", lot=RUN, value=0.75,
        unit="million CFU/g", sampled_at=at,
    )  # fmt: skip
    with line_pages(tmp_path) as mill:
        made(mill.record, product="HORSE-SUP", at=at - dt.timedelta(hours=2))
        read(mill.record, at=at - dt.timedelta(hours=1), conditioner_temperature=70.0)
        mill.record.append(assay_fact(row, by="dell", at=at), recorded_at=at)
        text = mill.visitor().get("/pellet-line/additives?on=PL2:HORSE-SUP").text
        assert "Assays of the feed as bagged" in text
        assert "below it" in text
        (link,) = re.findall(r'href="(/pellet-line/additives/own[?][^"]*)"', text)
        own_text = mill.visitor().get(link.replace("&amp;", "&")).text
    assert "To a tenth (D) at 158 °F" in own_text


def test_another_temperature_can_be_tried(line: PageMill) -> None:
    """Typed, it is what the answer goes by; what no conditioner runs at is refused in words."""
    visitor = line.visitor()
    text = visitor.get("/pellet-line/additives?on=PL2:HORSE-SUP&wanted=160").text
    assert "At 160 °F in the conditioner" in text
    refused = visitor.get("/pellet-line/additives?on=PL2:HORSE-SUP&wanted=900").text
    assert "No conditioner runs at that" in refused
    assert "from 86 to 221" in refused
