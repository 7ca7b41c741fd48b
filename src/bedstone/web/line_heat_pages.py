"""What heat leaves of additives against the tag, and the mill's own trials of it."""

from collections.abc import Mapping
from dataclasses import replace
from urllib.parse import urlencode

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from bedstone.desk.heat_assays import BagAssay, bag_assays
from bedstone.desk.heat_trial import OwnHeat, keep_own_heat, number_of, own_heat, trial_typed
from bedstone.desk.line_heat import AdditiveHeat
from bedstone.desk.line_settings import LineSettings, settings_for
from bedstone.errors import BedstoneError
from bedstone.mill.model import Mill
from bedstone.mill.typed_fields import conditioning_typed_c
from bedstone.quantities.line_figures import temperature_number
from bedstone.web.careful import carefully
from bedstone.web.guard import SignedIn
from bedstone.web.line_pages import OnLine, one_on_line, page
from bedstone.web.roles import needs
from bedstone.web.show import Show
from bedstone.web.site import Site, site_of
from bedstone.web.survival_picture import survival_picture

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
TRIALS = 6
USUAL_ERROR_PCT = "20"
DONE = {"own": "Kept in the tables: this mill's own samples count from now on."}


@router.get("/pellet-line/additives")
def additives(request: Request, on: str = "", wanted: str = "", done: str = "") -> Response:
    """What heat leaves of live and delicate additives against the conditioner's temperature."""
    site = site_of(request)
    mill = site.mill()
    view, choices = one_on_line(site, mill, on)
    if view is not None and wanted.strip():
        view = _as_wanted(site, mill, view, wanted)
    show = Show.of(mill)
    found = None if view is None else view.settings
    pictures, results = [], []
    if found is not None:
        at_c = found.conditioned.temperature_c
        pictures = [survival_picture(row, show, set_c=at_c) for row in found.additives]
        results = [_with_trials(site, found, row) for row in found.additives]
    return page(
        request,
        "line_additives.html",
        view=view,
        choices=choices,
        pictures=pictures,
        results=results,
        said=DONE.get(done, ""),
        wanted=wanted,
    )


def _as_wanted(site: Site, mill: Mill, view: OnLine, wanted: str) -> OnLine:
    """The same with another temperature of the conditioner, or why it cannot be."""
    at = site.clock() if view.run is None else max(site.clock(), view.run.start_at)
    try:
        found = settings_for(
            site.record,
            view.choice.product,
            view.choice.line,
            at=at,
            conditioning_c=conditioning_typed_c(wanted, mill.settings),
        )
    except BedstoneError as fault:
        return replace(view, settings=None, problem=fault)
    return replace(view, settings=found, problem=None)


def _with_trials(
    site: Site, found: LineSettings, row: AdditiveHeat
) -> tuple[tuple[BagAssay, ...], str]:
    """Assays of bagged feed, and the address at which they are trials of the mill's own."""
    show = Show.of(site.mill())
    rows = bag_assays(site.record, found, row, most=TRIALS)
    typed = {"which": f"{row.ingredient}:{row.what}"}
    for number, one in enumerate(rows):
        typed |= {
            f"before_{number}": f"{one.put_in:.4g}",
            f"after_{number}": f"{one.found:.4g}",
            f"at_{number}": f"{temperature_number(one.conditioner_c, show.units):.4g}",
            f"s_{number}": f"{one.same_loss_s:.4g}",
        }
    return rows, f"/pellet-line/additives/own?{urlencode(typed)}"


@router.get("/pellet-line/additives/own")
def own(request: Request) -> Response:
    """The mill's own samples before and after its conditioner, and the D that they give."""
    typed = dict(request.query_params)
    found, fault = None, None
    if any(typed.get(f"before_{number}", "").strip() for number in range(TRIALS)):
        try:
            found = typed_trials(site_of(request), typed)
        except BedstoneError as problem:
            fault = problem
    return own_page(request, typed, found=found, fault=fault)


def own_page(
    request: Request,
    typed: Mapping[str, str],
    *,
    found: OwnHeat | None = None,
    fault: BedstoneError | None = None,
) -> Response:
    """The page of own trials with what was typed, and what it gives."""
    mill = site_of(request).mill()
    return page(
        request,
        "line_own_heat.html",
        status=200 if fault is None else fault.http_status,
        fault=fault,
        found=found,
        typed={"error": USUAL_ERROR_PCT, **typed},
        additives=sorted({(row.ingredient, row.what) for row in mill.heat_sensitive}),
        numbers=range(TRIALS),
    )


def typed_trials(site: Site, typed: Mapping[str, str]) -> OwnHeat:
    """What the trials that were typed give.

    Raises
    ------
    BedstoneError
        If something typed cannot be understood, or says nothing.
    """
    mill = site.mill()
    trials = []
    for number in range(TRIALS):
        cells = [
            typed.get(f"{name}_{number}", "").strip() for name in ("before", "after", "at", "s")
        ]
        if any(cells):
            trials.append(trial_typed(cells, mill.settings))
    ingredient, _, what = typed.get("which", "").partition(":")
    z, error = typed.get("z", "").strip(), typed.get("error", "").strip()
    return own_heat(
        mill,
        ingredient=ingredient,
        what=what,
        trials=trials,
        z_dk=number_of("z_dk", z, mill.settings) if z else None,
        assay_cv_frac=number_of("error_frac", error or USUAL_ERROR_PCT, mill.settings),
        on=site.clock().astimezone(mill.settings.zone).date(),
    )


@router.post("/pellet-line/additives/own")
def keep_own(request: Request, posted: SignedIn) -> Response:
    """Put the mill's own D into the tables."""
    site = site_of(request)
    typed = {name: text for name, text in posted.fields.items() if isinstance(text, str)}
    found = None
    try:
        needs(posted.person, "tables")
        found = typed_trials(site, typed)
        row = found.row
        carefully(
            site,
            posted,
            same=lambda one: one.fact.kind.startswith("mill.tables"),
            act=lambda: keep_own_heat(site.record, row, by=posted.person.person, at=posted.at),
        )
    except BedstoneError as fault:
        return own_page(request, typed, found=found, fault=fault)
    return RedirectResponse("/pellet-line/additives?done=own", status_code=303)
