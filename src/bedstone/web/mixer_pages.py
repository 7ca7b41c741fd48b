"""Mixers and their tests: the list, one test as a picture, its report."""

from fastapi import APIRouter, Request
from fastapi.responses import Response
from markupsafe import Markup

from bedstone.desk.mixer_view import VERDICT_WORDS, JudgedTest, judged_test, mixer_standings
from bedstone.papers.mixer_report import mixer_report
from bedstone.web.paper_pages import pdf
from bedstone.web.site import site_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
MARKS = {"proved": "good", "likely": "note", "not proved": "act", "fails": "stop"}
WIDTH, HEIGHT, LEFT, TOP, BOTTOM = 720, 260, 70, 20, 36


@router.get("/mixers")
def mixers(request: Request) -> Response:
    """Every mixer with its tests, and when the next is due."""
    site = site_of(request)
    standings = mixer_standings(site.record, at=site.clock())
    return site.page(request, "mixers.html", standings=standings, marks=MARKS)


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
