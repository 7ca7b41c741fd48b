"""The week of all products together: who gets what is scarce, what to buy, what each costs."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from starlette.datastructures import QueryParams

from bedstone.desk.formula_plain import week_tables
from bedstone.desk.formula_week import FormulatedWeek, formulate_week, week_tonnes
from bedstone.desk.formulate import Choices, can_be_formulated
from bedstone.errors import BedstoneError, Unknown
from bedstone.formulation.joint_model import Claim, MaterialAnswer
from bedstone.formulation.joint_words import why_so_much
from bedstone.mill.model import Mill
from bedstone.papers.table_files import csv_file, workbook
from bedstone.quantities.units import DIMENSIONS, to_si
from bedstone.web.formula_pages import SOURCES
from bedstone.web.formula_pictures import CostBar, cost_picture
from bedstone.web.formula_work import chosen, typed_amount
from bedstone.web.kept import Kept
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of
from bedstone.web.typed import typed_mass

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
MG_T = 1e9
WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"

_KEPT = Kept[FormulatedWeek]()


@dataclass(frozen=True, slots=True, kw_only=True)
class Asking:
    """What is asked of a week: tonnes of each product, how compositions are taken, what is offered."""

    choices: Choices
    tonnes: Mapping[str, float]
    offers: Mapping[str, float] = field(default_factory=dict)

    @property
    def key(self) -> tuple[object, ...]:
        """What tells one question from another."""
        return (
            self.choices.on,
            self.choices.composed,
            self.choices.odds_frac,
            tuple(sorted(self.tonnes.items())),
            tuple(sorted(self.offers.items())),
        )


def _asking(site: Site, query: Mapping[str, str]) -> Asking:
    """What a query asks; without masses a week like the last, and no less than is on order.

    Raises
    ------
    BadInput
        If something in it cannot be understood.
    Unknown
        If it names a product that the mill does not make.
    """
    show = Show.of(site.mill())
    typed = {name.partition(".")[2]: text for name, text in query.items() if name[:5] == "mass."}
    for product in typed:
        site.mill().product(product)
    tonnes = week_tonnes(site.record, site.clock())
    if typed:
        tonnes = {
            product: typed_mass(text, show).mass_mg / MG_T
            for product, text in typed.items()
            if text.strip()
        }
    tonnes = {product: mass_t for product, mass_t in tonnes.items() if mass_t > 0}
    return Asking(
        choices=chosen(site, query), tonnes=tonnes, offers=_offers(site.mill(), query, show)
    )


def _offers(mill: Mill, query: Mapping[str, str], show: Show) -> dict[str, float]:
    """What somebody offers, at its price in USD/t."""
    code, price = query.get("offered", ""), query.get("price", "").strip()
    if not code or not price:
        return {}
    if code not in mill.ingredient_by_code:
        raise Unknown(f"{code[:40]!r} is no ingredient of the mill.", do="choose one of the list")
    value = Decimal(str(typed_amount(price, f"price of {mill.name_of(code)}")))
    return {code: float(to_si(value, DIMENSIONS["usd_t"].written(show.units)))}


@router.get("/week")
def week(request: Request) -> Response:
    """The week as asked; work that takes longer shows how it goes meanwhile."""
    site = site_of(request)
    asked = _asking(site, {})
    try:
        asked = _asking(site, request.query_params)
        found = _KEPT.find(site.record, asked.key)
        if found is None:
            address = f"/week?{request.url.query}"
            name = f"Formulating {len(asked.tonnes)} products together"
            task = site.work.start(name, lambda: _worked(site, asked, address))
            if site.work.wait(task) is None:
                return RedirectResponse(f"/under-way/{task.task}", status_code=303)
            found = _week(site, asked)
    except BedstoneError as fault:
        return _page(request, asked, None, fault)
    return _page(request, asked, found, None)


def _worked(site: Site, asked: Asking, address: str) -> str:
    _week(site, asked)
    return address


def _week(site: Site, asked: Asking) -> FormulatedWeek:
    return _KEPT.get(
        site.record,
        asked.key,
        lambda: formulate_week(site.record, asked.tonnes, asked.choices, offers=asked.offers),
    )


@router.get("/week.xlsx")
def week_workbook(request: Request) -> Response:
    """The week's tables as sheets of one workbook."""
    site = site_of(request)
    found = _week(site, _asking(site, request.query_params))
    return _file(workbook(week_tables(found)), "week.xlsx", WORKBOOK)


@router.get("/week-{table}.csv")
def week_csv(request: Request, table: str) -> Response:
    """One of the week's tables as CSV."""
    site = site_of(request)
    tables = week_tables(_week(site, _asking(site, request.query_params)))
    if table not in tables:
        raise Unknown("A week has no such table.", seen=table[:40], allowed=", ".join(tables))
    return _file(csv_file(*tables[table]), f"week-{table}.csv", "text/csv; charset=utf-8")


def _file(content: bytes, name: str, kind: str) -> Response:
    """A file to keep."""
    shown = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type=kind, headers=shown)


def _page(
    request: Request, asked: Asking, found: FormulatedWeek | None, fault: BedstoneError | None
) -> Response:
    site, query = site_of(request), request.query_params
    mill = site.mill()
    show, able = Show.of(mill), set(can_be_formulated(mill))
    products = [row for row in mill.products if row.product in able]
    return site.page(
        request,
        "week.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        asked=asked,
        sources=SOURCES,
        source=query.get("from", ""),
        odds=query.get("odds", ""),
        products=products,
        masses={row.product: _mass_shown(asked, row.product, query, show) for row in products},
        offered=query.get("offered", ""),
        price=query.get("price", ""),
        query=request.url.query,
        **({} if found is None else _shown(found, show)),
        found=found,
    )


def _mass_shown(asked: Asking, product: str, query: QueryParams, show: Show) -> str:
    """What stands in a product's field: as it was typed, else what is asked of it."""
    mass_mg = round(asked.tonnes.get(product, 0.0) * MG_T)
    return query.get(f"mass.{product}", show.mass(mass_mg) if mass_mg else "")


def _shown(found: FormulatedWeek, show: Show) -> dict[str, Any]:
    """What the page shows of a week: sums, pictures, sentences."""
    answer = found.answer
    alone_usd = sum(found.alone_usd_t[one.product] * one.mass_t for one in answer.products)
    rows = {row.code: row for row in answer.materials}
    return {
        "answer": answer,
        "alone_usd": alone_usd,
        "scarce": [row for row in answer.materials if row.scarce],
        "rows": rows,
        "why": {
            code: [(claim, _why(claim, rows[code], show)) for claim in claims]
            for code, claims in found.claims.items()
        },
        "pictures": {
            code: _who_gets(claims, rows[code], show) for code, claims in found.claims.items()
        },
        "spent": _spent(answer.materials),
        "mass": lambda mass_t: show.mass(round(mass_t * MG_T)),
        "notes": _same_notes(answer.notes, show),
    }


def _why(claim: Claim, row: MaterialAnswer, show: Show) -> str:
    return why_so_much(
        claim.mass_t,
        last_usd_t=claim.last_usd_t,
        next_usd_t=claim.next_usd_t,
        worth_usd_t=row.pay_at_most_usd_t,
        said=lambda usd_t: f"{show.price(usd_t)} a {show.ton}",
    )


def _who_gets(claims: tuple[Claim, ...], row: MaterialAnswer, show: Show) -> Any:
    """A bar for each product, as long as what it gets of a material."""
    bars = [
        CostBar(
            name=show.name(claim.product),
            cost=claim.mass_t,
            words=f"{show.mass(round(claim.mass_t * MG_T))}  ({claim.share_frac * 100:.3g} %)",
        )
        for claim in claims
        if claim.mass_t > 0
    ]
    total = show.mass(round(row.used_t * MG_T))
    return cost_picture(bars, f"Who gets how much of {total} of {row.name}")


def _spent(materials: tuple[MaterialAnswer, ...]) -> Any:
    """A bar for each material, as long as what the week uses of it is worth."""
    rows = sorted(materials, key=lambda row: -row.used_t * row.pay_at_most_usd_t)
    bars = [
        CostBar(
            name=row.name,
            cost=row.used_t * row.pay_at_most_usd_t,
            words=f"${row.used_t * row.pay_at_most_usd_t:,.0f}" + ("  scarce" * row.scarce),
        )
        for row in rows
        if row.used_t > 0
    ]
    return cost_picture(bars, "What the week uses of each material, at what it is worth, in USD")


def _same_notes(notes: tuple[str, ...], show: Show) -> list[str]:
    """Notes that say the same of several products, said once with all their names."""
    found: dict[str, list[str]] = {}
    for note in notes:
        name, colon, words = note.partition(": ")
        found.setdefault(words if colon else note, []).extend([show.name(name)] if colon else [])
    return [
        f"{', '.join(names)}: {words}." if names else f"{words}." for words, names in found.items()
    ]
