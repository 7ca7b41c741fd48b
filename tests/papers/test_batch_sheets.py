import datetime as dt
import io
import re
from dataclasses import replace

import pypdf
import pypdfium2
import pytest
import zxingcpp

from bedstone.desk.plans import PlanStanding
from bedstone.desk.record import Head
from bedstone.errors import Refused, Unknown
from bedstone.mill.model import Content, Mill, Substance
from bedstone.mill.plan import Batch, Finding, LotShare, Plan, Verdict
from bedstone.papers.sheets import batch_sheet, batch_sheets
from fakes.plans import HEAD, PIG_DRAWS, SHEEP_DRAWS, a_batch, a_draw, a_plan, lb
from fakes.small_mill import a_mill

WHEN = Head(position=1880, head=HEAD)


def pages(pdf: bytes) -> list[str]:
    """Text of each page, blanks joined."""
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    return [" ".join(page.extract_text().split()) for page in reader.pages]


def sheet(batch_id: str, plan: Plan | None = None, mill: Mill | None = None) -> list[str]:
    return pages(batch_sheet(plan or a_plan(), batch_id, mill or a_mill(), head=WHEN))


def with_batch(batch: Batch) -> Plan:
    """The plan with one of its batches in another shape."""
    plan = a_plan()
    batches = tuple(batch if row.batch == batch.batch else row for row in plan.batches)
    return replace(plan, batches=batches)


def test_a_batch_sheet_says_what_to_weigh_in_weighing_order() -> None:
    """One page with id, product, version, targets and tolerances, draws in weighing order."""
    (text,) = sheet("4107-02")
    for words in (
        "4107-02", "Sheep Grower 16", "SHEEP-GR, formula version 3", "R-4107, batch 2 of 3",
        "4107, Harrow Lane Farm", "Quillback Mill", "Wednesday 25 November 2026", "1,600", "± 2",
        "16.00", "± 0.02", "200.0", "4,000", "main scale (SC1)", "division 0.1 lb", "08:03 to 08:18",
        "P-2026-11-25-3f9a1c", "revision 12", "Journal 1880:9f3c1d20b4e85a66", "page 1 of 1",
    ):  # fmt: skip
        assert words in text, words
    names = [
        "Corn, ground", "Wheat middlings", "Sheep premix, no copper", "Vitamin E 50 %",
        "Soybean meal 47.5", "Limestone, fine", "Salt SALT", "Cane molasses", "Soybean oil",
    ]  # fmt: skip
    places = [text.index(name) for name in names]
    assert places == sorted(places)


def test_lots_to_draw_from_stand_under_the_ingredient() -> None:
    """Each lot with the mass the flow pattern says, so that the operator knows what will come."""
    (text,) = sheet("4107-01")
    assert "lots L-1101-CORN 1,100, L-1112-CORN 500" in text


def test_mixing_time_destination_and_what_comes_before() -> None:
    """Dry and wet mixing time, the way to the bin, and the flush before with its reason."""
    (text,) = sheet("4107-01")
    assert "Mix dry 3 min" in text
    assert "mix wet 2 min" in text
    assert "MX1 → SB1 → PL1 → FB1" in text
    assert "Flush with 400 lb Barley, ground (4107-01-flush): The first sacks would carry" in text


def test_a_batch_without_liquid_is_not_mixed_wet() -> None:
    """Nothing is said of wet mixing when no liquid goes in."""
    (text,) = sheet("4106-01")
    assert "Mix dry 3 min" in text
    assert "wet" not in text


def test_cautions_name_the_limit_and_its_source() -> None:
    """The sheet of a sheep feed names the copper limit, its source, and who comes first."""
    (text,) = sheet("4107-01")
    assert "Copper: at most 15 mg/kg in any sack (mill policy)." in text
    assert "Monensin: only after the flush or cleaning feed" in text
    assert "The label, the nutritionist, the veterinarian and the local rules come first" in text


def test_the_next_flush_is_told_on_the_batch_before_it() -> None:
    """The last batch before a clean-out and a flush says that they follow, and why."""
    (text,) = sheet("4106-02")
    assert "Flush with 400 lb Barley, ground (4107-01-flush)" in text


def test_a_medicated_batch_has_the_fields_of_the_rule() -> None:
    """21 CFR 225.102: formula, amount of drug, feed made, drug count, date and who."""
    (text,) = sheet("4105-01")
    for words in (
        "21 CFR 225.102", "Formula: BROIL-M, version 2", "Monensin 90.7 g/lb Type A (MONEN): 2.00 lb",
        "Drug used", "Drug left by count", "Feed made, lb", "Date, started", "Weighed by",
        "Checked by (another)", "drug", "Can kill horses", "Do not feed to horses",
    ):  # fmt: skip
        assert words in text, words
    (plain,) = sheet("4106-01")
    assert "225.102" not in plain


def test_a_flush_has_its_own_sheet() -> None:
    """A flush sheet says with what, how much, where to, why, and what becomes of it."""
    (text,) = sheet("4107-01-flush")
    for words in ("Flush sheet", "Barley, ground", "400 lb", "9 mg/kg of copper", "MX1 → SB1 → PL1",
                  "FL1", "goes into Pig Finisher 14", "Clean out by hand MX1"):  # fmt: skip
        assert words in text, words


def test_a_clean_out_has_its_own_sheet() -> None:
    """A clean-out sheet lists each place to tick and says to lock out first."""
    (text,) = sheet("4107-01-clean")
    for words in ("Clean-out sheet", "two-ton mixer (MX1)", "surge bin (SB1)",
                  "conveyor from two-ton mixer to surge bin", "lock and tag out",
                  "29 CFR 1910.147"):  # fmt: skip
        assert words in text, words


def test_all_sheets_come_in_order_of_running() -> None:
    """One PDF with a page for each batch, flush and clean-out, each counting its own pages."""
    found = pages(batch_sheets(a_plan(), a_mill(), head=WHEN))
    ids = [re.search(r"(41\S+), page 1 of 1", text) for text in found]
    assert [match[1] for match in ids if match] == [
        "4105-01", "4106-01", "4106-02", "4107-01-clean", "4107-01-flush", "4107-01", "4107-02",
        "4107-03",
    ]  # fmt: skip


def read_codes(pdf: bytes, page: int = 0) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    try:
        bitmap = document[page].render(scale=200 / 72).to_pil().convert("L")
        return [code.text for code in zxingcpp.read_barcodes(bitmap)]
    finally:
        document.close()


def test_the_barcode_on_the_page_is_the_batch() -> None:
    """What a scanner reads off the rendered page is the batch's id, a long one too."""
    assert read_codes(batch_sheet(a_plan(), "4107-02", a_mill(), head=WHEN)) == ["4107-02"]
    assert read_codes(batch_sheet(a_plan(), "4107-01-flush", a_mill(), head=WHEN)) == [
        "4107-01-flush"
    ]
    long = "ORDER-2026-1125-OF-THE-NORTH-YARD-0001-01"
    batch = replace(a_batch("4107-02", "SHEEP-GR", SHEEP_DRAWS), batch=long)
    plan = replace(a_plan(), batches=(batch,))
    assert read_codes(batch_sheet(plan, long, a_mill(), head=WHEN)) == [long]


def test_equal_input_gives_equal_bytes() -> None:
    """Printed twice, the same plan gives the same file, byte for byte."""
    one = batch_sheets(a_plan(), a_mill(), head=WHEN)
    assert one == batch_sheets(a_plan(), a_mill(), head=WHEN)
    assert one != batch_sheets(a_plan(), a_mill(), head=Head(position=1881, head="0" * 64))


def test_the_paper_is_an_archive_file_in_the_mills_format() -> None:
    """PDF/A-2b; Letter for a mill in pounds, A4 for one in kilograms."""
    reader = pypdf.PdfReader(io.BytesIO(batch_sheet(a_plan(), "4107-02", a_mill(), head=WHEN)))
    metadata = reader.xmp_metadata
    assert metadata is not None
    assert (metadata.pdfaid_part, metadata.pdfaid_conformance) == ("2", "B")
    assert [round(float(side)) for side in reader.pages[0].mediabox[2:]] == [612, 792]
    pdf = batch_sheet(a_plan(), "4107-02", a_mill("SI"), head=WHEN)
    si = pypdf.PdfReader(io.BytesIO(pdf))
    assert [round(float(side)) for side in si.pages[0].mediabox[2:]] == [595, 842]


def test_a_mill_in_kilograms_reads_kilograms() -> None:
    """Masses are in the mill's unit with the decimals of the division."""
    draw = a_draw(1, "CORN-GR", 0, target_mg=725_500_000, tolerance_mg=1_000_000,
                  division_mg=500_000, lots=())  # fmt: skip
    (text,) = sheet("4107-02", with_batch(a_batch("4107-02", "SHEEP-GR", (draw,))), a_mill("SI"))
    assert "Target, kg" in text
    assert "725.5" in text
    assert "± 1.0" in text
    assert "division 0.5 kg" in text


PROPOSED = "Proposed, not released: do not weigh from this sheet"


def test_every_sheet_of_a_proposal_says_not_to_weigh_from_it() -> None:
    """Each sheet, of a batch, a flush or a clean-out, alone or with the others, opens with it."""
    proposed = PlanStanding(plan=a_plan(), status="proposed")
    all_of = pages(batch_sheets(a_plan(), a_mill(), head=WHEN, standing=proposed))
    assert len(all_of) == 8
    for text in (*all_of, *sheet("4107-02"), *sheet("4107-01-flush"), *sheet("4107-01-clean")):
        assert PROPOSED in text
        assert "Released by" not in text


def test_a_released_sheet_says_by_whom_and_when() -> None:
    """Each sheet of a released plan names the person and the time in the mill's own clock."""
    at = dt.datetime(2026, 11, 24, 21, 40, tzinfo=dt.UTC)
    plan, mill = a_plan(), a_mill()
    person = mill.people[0]
    standing = PlanStanding(plan=plan, status="released", released_by=person.person, released_at=at)
    local = at.astimezone(mill.settings.zone)
    words = f"Released by {person.name}, Tuesday 24 November 2026, {local:%H:%M}"
    found = pages(batch_sheets(plan, mill, head=WHEN, standing=standing))
    assert len(found) == 8
    for text in found:
        assert words in text
        assert "not released" not in text


def test_sixty_draws_flow_to_further_pages() -> None:
    """A long sheet goes on with its head, its column titles and its page numbers; none is lost."""
    draws = tuple(
        a_draw(at, "CORN-GR", 50 + at, lots=(LotShare(lot=f"LOT-{at:03d}", mass_mg=lb(50)),))
        for at in range(1, 61)
    )
    found = sheet("4107-02", with_batch(a_batch("4107-02", "SHEEP-GR", draws)))
    assert len(found) > 1
    for at, text in enumerate(found, start=1):
        assert f"4107-02, page {at} of {len(found)}" in text
        assert "Target, lb" in text or at == len(found)
    assert "4107-02, Sheep Grower 16" in found[1]
    whole = " ".join(found)
    lots = [whole.index(f"LOT-{at:03d}") for at in range(1, 61)]
    assert lots == sorted(lots)


NASTY = (
    "#text(red)[x]", "*bold* _it_ `raw`", "$ x^2 $", "@label <label>", "[a] {b} ]]", 'say "hi"',
    "back\\slash \\u{41}", "// comment /* x */", "= Head", "- item", "a & b < c > d", "~ -- ---",
    '#import "x.typ"', "#sys.inputs.data", "Ærøskøbing Žluťoučký Ωμέγα Ёж",
)  # fmt: skip


@pytest.mark.parametrize("name", NASTY)
def test_no_name_is_ever_taken_for_markup(name: str) -> None:
    """A name with the typesetter's own signs comes out as it was written, wherever it stands."""
    mill = a_mill(name=name)
    products = tuple(replace(row, name=name, caution=name) for row in mill.products)
    ingredients = tuple(replace(row, name=name) for row in mill.ingredients)
    mill = replace(mill, products=products, ingredients=ingredients)
    batch = replace(a_batch("4107-02", "SHEEP-GR", SHEEP_DRAWS), reason=name, fate=name)
    (text,) = sheet("4107-02", with_batch(batch), mill)[:1]
    squeezed = re.sub(r"\s", "", text)
    assert squeezed.count(re.sub(r"\s", "", name)) >= len(SHEEP_DRAWS)


def test_letters_without_a_shape_and_control_signs_do_no_harm() -> None:
    """What the fonts cannot show is printed as an empty square; the sheet is made all the same."""
    mill = a_mill(name="Mill 磨坊\x00\x07\u202e 🐑 \ue000 end")
    (text,) = sheet("4107-02", mill=mill)
    assert "Mill □□ □ □ end" in text or "Mill □□ □ end" in text


def test_a_very_long_name_stays_on_the_page() -> None:
    """A name of 400 letters without a blank neither fails nor runs off the paper."""
    mill = a_mill()
    ingredients = tuple(replace(row, name="W" * 400) for row in mill.ingredients)
    pdf = batch_sheet(a_plan(), "4107-02", replace(mill, ingredients=ingredients), head=WHEN)
    document = pypdfium2.PdfDocument(pdf)
    width = document[0].get_width()
    page = document[0].get_textpage()
    boxes = [page.get_charbox(at) for at in range(page.count_chars())]
    document.close()
    assert max(right for _left, _bottom, right, _top in boxes) < width


@pytest.mark.parametrize("sign", ["plan", "batch", "status"])
def test_a_plan_that_the_verifier_rejects_prints_no_batch_sheet(sign: str) -> None:
    """Status refused, or any stop among the findings, prints nothing and says why."""
    stop = Finding(
        code="residue.level", verdict=Verdict.STOP, about="4107-01",
        text="The first sacks would carry 17 mg/kg of copper.", source="mill policy",
    )  # fmt: skip
    plan = a_plan()
    if sign == "plan":
        plan = replace(plan, findings=(stop,))
    elif sign == "batch":
        batch = replace(a_batch("4106-01", "PIG-FIN", PIG_DRAWS), findings=(stop,))
        plan = with_batch(batch)
    else:
        plan = replace(plan, status="refused")
    for act in (
        lambda: batch_sheet(plan, "4107-02", a_mill(), head=WHEN),
        lambda: batch_sheets(plan, a_mill(), head=WHEN),
    ):
        with pytest.raises(Refused) as caught:
            act()
        assert "17 mg/kg" in str(caught.value) or sign == "status"


def test_a_batch_that_the_plan_has_not_is_unknown() -> None:
    """A wrong id offers near ones."""
    with pytest.raises(Unknown, match="4107-02"):
        batch_sheet(a_plan(), "4107-0", a_mill(), head=WHEN)


def test_a_finding_that_asks_to_act_is_on_the_sheet() -> None:
    """What the checks of the draws ask for is told to whoever weighs."""
    act = Finding(code="batching.short", verdict=Verdict.ACT, about="4107-02",
                  text="Too little salt on the book.", do="count the bin")  # fmt: skip
    batch = replace(a_batch("4107-02", "SHEEP-GR", SHEEP_DRAWS), findings=(act,))
    (text,) = sheet("4107-02", with_batch(batch))
    assert "Too little salt on the book. Count the bin." in text


def test_a_medicated_sheet_has_the_drug_level_and_who_approved_the_formula() -> None:
    """21 CFR 225.102: the level of the drug in the feed, and who approved its formula, and when."""
    mill = a_mill()
    dated = tuple(replace(row, approved_on=dt.date(2026, 6, 1)) for row in mill.formulas)
    share = next(
        line.parts_frac
        for line in mill.formula_lines
        if (line.product, line.ingredient) == ("BROIL-M", "MONEN")
    )
    substances = (Substance(substance="monensin", name="Monensin"),)
    contents = (
        Content(
            ingredient="MONEN", substance="monensin", content_mg_kg=100 / share, source="label"
        ),
    )
    drugged = replace(mill, formulas=dated, substances=substances, contents=contents)
    (text,) = sheet("4105-01", mill=drugged)
    assert "approved by Mara Oss, Monday 1 June 2026" in text
    assert "in the feed: Monensin 100 mg/kg (90.7 g/ton)" in text


@pytest.mark.parametrize("draws", range(12, 40, 3))
def test_signatures_never_stand_alone_on_a_page(draws: int) -> None:
    """However many draws there are, the lines to sign stay with the record of the drug."""
    plan = a_plan()
    batch = next(row for row in plan.batches if row.batch == "4105-01")
    drug = next(draw for draw in batch.draws if draw.ingredient == "MONEN")
    rows = tuple(a_draw(at, "CORN-GR", 50 + at) for at in range(2, draws))
    longer = replace(batch, draws=(replace(drug, sequence=1), *rows))
    found = sheet("4105-01", with_batch(longer))
    assert "Medicated feed: record of this batch" in found[-1]
    assert "Weighed by" in found[-1]
    if draws <= 15:
        assert len(found) == 1
