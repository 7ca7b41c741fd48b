"""The page of the conditioner: typed numbers, begun with a product's tables."""

import html
import re
from collections.abc import Iterator

import pytest

from bedstone.desk.revisions import current_mill
from fakes.page_line import line_pages
from fakes.page_server import PageMill


@pytest.fixture(scope="module")
def line(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageMill]:
    """The demo mill, only read."""
    with line_pages(tmp_path_factory.mktemp("conditioner")) as served:
        yield served


def figure(text: str, name: str) -> str:
    """A big figure by its name."""
    found = re.search(rf"<dt>{re.escape(name)}</dt><dd>([^<]*)<", text)
    assert found, name
    return found.group(1)


def test_the_published_conditioning_is_met_as_typed(line: PageMill):
    """97.2 F to 190 F by steam raised moisture by 4.2 points in a published experiment (quoted in
    tests/outside/test_pelleting_outside.py); the form gives within 0.6 of it, typed in C or F.
    """
    asked = "mash_c=97.2&wanted_c=190&steam_quality_frac=100&loss_frac=0"
    text = line.visitor().get(f"/pellet-line/conditioner?{asked}").text
    points = re.search(r"\+([0-9.]+) points", text)
    assert points
    assert float(points[1]) == pytest.approx(4.2, abs=0.6)
    other = (
        line.visitor()
        .get(
            "/pellet-line/conditioner?mash_c=36.22222+C&wanted_c=87.77778+C&steam_quality_frac=100&loss_frac=0"
        )
        .text
    )
    assert figure(other, "Steam") == figure(text, "Steam")
    assert "understood as 36.22222 degrees C" in other


def test_a_gauge_is_typed_in_psi(line: PageMill):
    """A bare number at the gauge is psi in a mill that shows US units."""
    text = line.visitor().get("/pellet-line/conditioner?steam_gauge_pa=30").text
    assert "understood as 30 psi" in text


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("wanted_c=500", "allowed: a number from 32 to 221 degrees F"),
        ("mash_rate_kg_s=nothing", "allowed: a number"),
        ("fill_frac=-4", "allowed: a number"),
        ("wanted_c=70&mash_c=90", "steam does not cool"),
        ("wanted_c=219", "water boils in this air"),
        ("wanted_c=170&steam_kg_s=500", "not both"),
        ("length_m=8", "go together"),
        ("molasses_kg_s=9000", "So much liquid"),
    ],
)
def test_what_cannot_be_is_said_at_its_field(line: PageMill, typed: str, said: str):
    """A number out of range is shown as typed with what is allowed; no answer is given."""
    answer = line.visitor().get(f"/pellet-line/conditioner?{typed}")
    assert answer.status_code == 200
    assert said in answer.text
    assert 'class="notice"' in answer.text
    assert "<dt>Steam</dt>" not in answer.text


def test_steam_gives_a_temperature_and_molasses_goes_without_steam(line: PageMill):
    """The steam of a wanted temperature gives it back; molasses alone warms or cools the mash."""
    visitor = line.visitor()
    text = visitor.get("/pellet-line/conditioner?wanted_c=170&molasses_kg_s=600").text
    steam = figure(text, "Steam").replace(",", "")
    again = visitor.get(
        "/pellet-line/conditioner?wanted_c=&molasses_kg_s=600&steam_kg_s=" + steam
    ).text
    assert abs(int(figure(again, "Mash leaving").removesuffix(" °F")) - 170) <= 1
    cold = visitor.get(
        "/pellet-line/conditioner?wanted_c=&steam_kg_s=0&mash_c=60&molasses_kg_s=600&molasses_at_c=110"
    ).text
    assert 60 < int(figure(cold, "Mash leaving").removesuffix(" °F")) < 70
    assert figure(cold, "Steam") == "0 lb/h"


def test_the_form_begins_with_a_products_own_tables(line: PageMill):
    """Asked of a product it begins with its setting, its formula's water and what is lacking of it."""
    text = line.visitor().get("/pellet-line/conditioner?on=PL1:SWINE-ST").text
    row = next(one for one in current_mill(line.record).pellets if one.product == "SWINE-ST")
    assert f'name="wanted_c" value="{row.conditioning_c * 1.8 + 32:.4g}"' in text
    assert "Pig Starter 20 on" in text
    assert "Not analysed: ash" in text


def test_too_wet_for_the_die_is_said(line: PageMill):
    """Mash at 15 % before steam is too wet for a die that takes 16.5 %."""
    text = line.visitor().get("/pellet-line/conditioner?mash_moisture_wb=15&wanted_c=180").text
    assert "too wet for the die" in text


def test_the_conditioner_begins_with_the_product_its_list_shows(line: PageMill) -> None:
    """Opened plainly the page reckons the first product of its list, not usual numbers."""
    visitor = line.visitor()
    text = visitor.get("/pellet-line/conditioner").text
    code = text.split('<option value="')[1].split('"')[0]
    name = text.split(f'<option value="{code}"')[1].split(">")[1].split(",")[0]
    assert f"Begins with the tables of {name} on" in text


def test_another_fuel_wants_its_own_price(line: PageMill) -> None:
    """Fuel changed and price left: refused in words; with a price it is reckoned."""
    visitor = line.visitor()
    path = "/pellet-line/conditioner?on=PL1:SWINE-ST&fuel=propane"
    left = visitor.get(path).text
    assert "The fuel was changed, its price was not." in left
    assert "gallon of propane" in left
    assert "a gallon</small>" in visitor.get(f"{path}&fuel_usd=1.85").text


def test_other_numbers_begin_with_those_of_the_next_run(line: PageMill) -> None:
    """The link of the next run carries its rate and temperature over, so both pages agree."""
    visitor = line.visitor()
    run = visitor.get("/pellet-line?on=PL1:DAIRY-18").text
    (link,) = re.findall(r'href="(/pellet-line/conditioner\?[^"]*)">other numbers', run)
    there = visitor.get(html.unescape(link)).text
    assert figure(there, "Mash leaving") == figure(run, "Conditioner")
    assert figure(there, "Boiler") == figure(run, "Boiler")


def test_neither_temperature_nor_steam_is_asked_for(line: PageMill) -> None:
    """Both empty is no answer of cold mash."""
    text = line.visitor().get("/pellet-line/conditioner?wanted_c=&steam_kg_s=").text
    assert "Neither the wanted temperature nor the steam is there" in text
