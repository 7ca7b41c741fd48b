"""Mixers and their tests: the list, one test as a picture, its report."""

import re

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from markupsafe import Markup

from bedstone.desk.checks import must_be_machine, must_have_been
from bedstone.desk.mixer_tests import COUNT, record_mixer_test
from bedstone.desk.mixer_view import VERDICT_WORDS, JudgedTest, judged_test, mixer_standings
from bedstone.errors import BadInput, BedstoneError
from bedstone.papers.mixer_report import mixer_report
from bedstone.web.careful import carefully, is_about
from bedstone.web.guard import SignedIn
from bedstone.web.mixer_pictures import times_picture
from bedstone.web.paper_pages import pdf
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import site_of
from bedstone.web.typed import typed_moment
from bedstone.web.typed_measure import typed_number

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
MARKS = {"proved": "good", "likely": "note", "not proved": "act", "fails": "stop"}
WIDTH, HEIGHT, LEFT, TOP, BOTTOM = 720, 260, 70, 20, 36


@router.get("/mixers")
def mixers(request: Request) -> Response:
    """Every mixer with its tests, and when the next is due."""
    site = site_of(request)
    standings = mixer_standings(site.record, at=site.clock())
    return site.page(
        request,
        "mixers.html",
        standings=standings,
        marks=MARKS,
        pictures={row.mixer.machine: times_picture(row) for row in standings},
    )


@router.get("/mixers/tests/{position}")
def one_test(request: Request, position: int) -> Response:
    """One test: its samples as a picture, and what they say."""
    site = site_of(request)
    row = judged_test(site.record, position)
    return site.page(
        request,
        "mixer_test.html",
        row=row,
        marks=MARKS,
        verdict_says=VERDICT_WORDS[row.found.verdict],
        picture=samples_picture(row),
    )


@router.get("/mixers/tests/{position}/report.pdf")
def report(request: Request, position: int) -> Response:
    """The report of one test as PDF."""
    site = site_of(request)
    row = judged_test(site.record, position)
    return pdf(mixer_report(row, site.mill(), head=site.record.head()), f"mixer-test-{position}")


@router.get("/mixers/{code}/test")
def test_form(request: Request, code: str) -> Response:
    """The form of a test of one mixer."""
    return form_page(request, code, {})


def form_page(
    request: Request, code: str, typed: dict[str, str], *, fault: BedstoneError | None = None
) -> HTMLResponse:
    """The form of a mixer test, with what was typed so far still in it."""
    site = site_of(request)
    mill = site.mill()
    return site.page(
        request,
        "mixer_form.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        mixer=must_be_machine(mill, code, kind="mixer"),
        products=mill.products,
        typed=typed,
        moment=Show.of(mill).form_moment(site.clock()),
    )


def samples_of(text: str) -> tuple[float, ...]:
    """The samples that were typed, spaces or lines between them.

    Raises
    ------
    BadInput
        If one is no number.
    """
    found = []
    for number, word in enumerate(re.split(r"[\s;]+", text.strip()), start=1):
        found.append(typed_number(word, what=f"sample {number}"))
    return tuple(found)


@router.post("/mixers/{code}/test")
def tested(request: Request, code: str, posted: SignedIn) -> Response:
    """Record the samples of a mixer test, and show what they say."""
    site = site_of(request)
    mill = site.mill()
    must_be_machine(mill, code, kind="mixer")
    typed = {name: posted.text(name) for name in posted.fields}
    try:
        needs(posted.person, "mixer test")
        when = typed_moment(posted.text("when"), Show.of(mill), what="time of the test")
        must_have_been(when, at=posted.at, what="A mixer test")
        if posted.text("product") not in mill.product_by_code:
            raise BadInput("Say which feed was in the mixer.", allowed="a product of the list")
        made = carefully(
            site,
            posted,
            same=is_about(mixer=code),
            act=lambda: record_mixer_test(
                site.record,
                mixer=code,
                product=posted.text("product"),
                batch=posted.text("batch"),
                tracer=posted.text("tracer"),
                method=posted.text("method"),
                values=samples_of(posted.text("values")),
                unit=posted.text("unit") or COUNT,
                mixing_s=typed_number(posted.text("mixing"), what="mixing time", unit="seconds"),
                tested_at=when,
                by=posted.person.person,
                at=posted.at,
            ),
        )
    except BedstoneError as error:
        return form_page(request, code, typed, fault=error)
    return RedirectResponse(f"/mixers/tests/{made.position}", status_code=303)


def samples_picture(row: JudgedTest) -> Markup:
    """Samples in the order in which they were taken, with their mean and ten per cent about it."""
    values, mean = row.test.values, row.found.mean
    top = 1.05 * max(*values, 1.1 * mean)

    def down(value: float) -> float:
        return round(TOP + (HEIGHT - TOP - BOTTOM) * (1 - value / top), 1)

    step = (WIDTH - LEFT - 20) / len(values)
    parts = [
        Markup(
            '<rect x="{}" y="{}" width="{}" height="{}" fill="currentColor" opacity="0.08"/>'
        ).format(
            LEFT, down(1.1 * mean), WIDTH - LEFT - 10, round(down(0.9 * mean) - down(1.1 * mean), 1)
        ),
        Markup('<line x1="{}" x2="{}" y1="{}" y2="{}" stroke="currentColor"/>').format(
            LEFT, WIDTH - 10, down(mean), down(mean)
        ),
        Markup('<text x="{}" y="{}" text-anchor="end" fill="currentColor">{}</text>').format(
            LEFT - 8, down(mean) + 4, f"{mean:.3g}"
        ),
    ]
    for at, value in enumerate(values):
        x = round(LEFT + step * (at + 0.5), 1)
        parts.append(
            Markup('<circle cx="{}" cy="{}" r="6" fill="currentColor"/>').format(x, down(value))
        )
        if len(values) <= 30:  # noqa: PLR2004 - more numbers do not fit side by side
            parts.append(
                Markup(
                    '<text x="{}" y="{}" text-anchor="middle" fill="currentColor">{}</text>'
                ).format(x, HEIGHT - 12, at + 1)
            )
    label = f"{len(values)} samples in the order taken, mean {mean:.3g} {row.test.unit}, band of ten per cent"
    svg = Markup('<svg viewBox="0 0 {} {}" role="img" aria-label="{}" width="{}">').format(
        WIDTH, HEIGHT, label, WIDTH
    )
    return Markup("").join([svg, *parts, Markup("</svg>")])
