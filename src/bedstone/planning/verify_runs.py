"""Runs of a plan: each batch in exactly one, run and batches saying the same, orders as they are."""

from collections import Counter
from collections.abc import Iterable, Sequence

from bedstone.mill.model import Mill, Product
from bedstone.mill.plan import Batch, BatchKind, Finding, Plan, Run
from bedstone.planning.model import OrderToMake
from bedstone.planning.paths import Paths, packing_kind
from bedstone.planning.verify_known import Known, stop
from bedstone.planning.words import mass_text

__all__ = ["lost_frac", "more_kg", "run_findings"]

MG_KG = 1_000_000
A_SECOND = 1.0
PRODUCTS = "products and routes tables"
ORDER = "orders of the mill"


def run_findings(mill: Mill, plan: Plan, known: Known) -> list[Finding]:
    """What does not belong together in runs, batches, ways and orders."""
    findings = list(_membership(plan, known))
    paths = Paths(mill)
    by_run: dict[str, list[Batch]] = {}
    for batch in plan.batches:
        by_run.setdefault(batch.run, []).append(batch)
    for run in plan.runs:
        batches = by_run.get(run.run, [])
        feed = [row for row in batches if row.kind is BatchKind.FEED]
        if not batches:
            continue  # all of it is on record, or said already to be missing
        product = mill.product_by_code.get(run.product)
        if product is None:
            text = f"{run.run} is of {run.product}, which the mill does not have."
            findings.append(stop("run.product", run.run, text, source=PRODUCTS))
            continue
        findings.extend(_same_feed(mill, run, feed))
        findings.extend(_way(mill, paths, run, product, batches))
        findings.extend(_places(mill, run, feed))
        findings.extend(_masses(mill, paths, run, product, feed, has_begun=known.has_begun(run)))
        findings.extend(_order(mill, paths, run, product, feed, known=known))
    return findings


def _membership(plan: Plan, known: Known) -> Iterable[Finding]:
    """Every feed batch is named by its run and by no other; every run has its batches."""
    runs = {run.run for run in plan.runs}
    named = Counter(batch for run in plan.runs for batch in run.batches)
    feed = {row.batch: row.run for row in plan.batches if row.kind is BatchKind.FEED}
    own = {run.run: set(run.batches) for run in plan.runs}
    for batch in plan.batches:
        if batch.run not in runs:
            text = f"{batch.batch} belongs to run {batch.run}, which the plan does not have."
            yield stop("run.missing", batch.batch, text)
        elif batch.kind is BatchKind.FEED and (
            batch.batch not in own[batch.run] or named[batch.batch] > 1
        ):
            text = (
                f"{batch.batch} says it is of run {batch.run}; runs name it {named[batch.batch]} "
                "times, and its own must name it once."
            )
            yield stop("run.batches", batch.batch, text, value=float(named[batch.batch]), limit=1.0)
    for run in plan.runs:
        missing = [
            batch
            for batch in run.batches
            if feed.get(batch) != run.run and known.batches.get(batch) != run.run
        ]
        if missing or not run.batches:
            text = (
                f"{run.run} names {', '.join(missing) or 'no batch'}: no batch of it in the plan, "
                "and none on record."
            )
            yield stop("run.batches", run.run, text)


def _same_feed(mill: Mill, run: Run, feed: Sequence[Batch]) -> Iterable[Finding]:
    for batch in feed:
        if (batch.material, batch.formula_version) != (run.product, run.formula_version):
            text = (
                f"{batch.batch} is {mill.name_of(batch.material)} by version "
                f"{batch.formula_version}; its run {run.run} is {mill.name_of(run.product)} by "
                f"version {run.formula_version}."
            )
            yield stop("run.product", batch.batch, text)


def _way(
    mill: Mill, paths: Paths, run: Run, product: Product, batches: Sequence[Batch]
) -> Iterable[Finding]:
    """Feed takes one of its product's ways, as far as its pack wants, all batches the same; a
    flush goes along that way.
    """
    feed = [row for row in batches if row.kind is BatchKind.FEED]
    ways = set(paths.all_of(product))
    if run.pack == "stock":
        ways |= {way[:-1] for way in ways}
    for batch in feed:
        if batch.route not in ways:
            text = (
                f"{batch.batch} would go {' > '.join(batch.route)}; {product.name} goes "
                f"{product.route}."
            )
            yield stop("route.product", batch.batch, text, source=PRODUCTS)
        elif batch.route != feed[0].route:
            text = (
                f"{batch.batch} would go {' > '.join(batch.route)}, and {feed[0].batch} of the "
                f"same run {' > '.join(feed[0].route)}."
            )
            yield stop("route.run", batch.batch, text)
    if feed:
        yield from _ends(paths, run, feed[0])
        whole = feed[0].route
        ends = mill.route_by_ends
        for batch in batches:
            if batch.kind is BatchKind.FEED:
                continue
            leads = batch.route == whole or (
                batch.route[-1:] and (batch.route[-1], mill.settings.flush_bin) in ends
            )
            if whole[: len(batch.route)] != batch.route or not leads:
                text = (
                    f"{batch.batch} would flush {' > '.join(batch.route)}; it must go along "
                    f"{' > '.join(whole)} to where a way leads to {mill.settings.flush_bin}, or "
                    "to its end."
                )
                yield stop("flush.route", batch.batch, text, source="routes table")


def _ends(paths: Paths, run: Run, batch: Batch) -> Iterable[Finding]:
    """The way ends where the pack of the run wants."""
    last = paths.kind(batch.route[-1])
    wanted = {
        "bags": (packing_kind("bags"),),
        "bulk": (packing_kind("bulk"), "finished"),
        "stock": ("finished",),
    }.get(run.pack)
    if wanted is None or last not in wanted:
        text = (
            f"{run.run} is for {run.pack or 'nothing'} and ends at {batch.route[-1]}; it must end "
            f"at {' or '.join(wanted) if wanted else 'bags, bulk or stock'}."
        )
        yield stop("run.packing", run.run, text, source=PRODUCTS)


def _places(mill: Mill, run: Run, feed: Sequence[Batch]) -> Iterable[Finding]:
    """Run and batches name the finished bin and the packing machine that are on the way."""
    for batch in feed:
        bins = [code for code in batch.route if code in mill.bin_by_code]
        finished = [code for code in bins if mill.bin_by_code[code].kind == "finished"]
        reached = (finished or bins or [batch.route[-1]])[-1]
        packed = batch.route[-1] if batch.route[-1] in mill.machine_by_code else ""
        if batch.destination != reached:
            text = f"{batch.batch} says it goes to {batch.destination}; its way leads to {reached}."
            yield stop("run.bin", batch.batch, text)
        elif run.finished_bin != reached:
            text = f"{run.run} names {run.finished_bin}; {batch.batch} goes to {reached}."
            yield stop("run.bin", run.run, text)
        if run.packing_machine != packed:
            text = (
                f"{run.run} is packed on {run.packing_machine or 'nothing'}; {batch.batch} goes "
                f"to {packed or 'no packing machine'}."
            )
            yield stop("run.packing", run.run, text)


def lost_frac(mill: Mill, paths: Paths, product: Product) -> float:
    """The most that a feed loses as dust on any of its ways.

    Returns
    -------
    lost : float
        Part of what leaves the mixer. [0 to 1]
    """
    kept = [1.0]
    for way in paths.all_of(product):
        left = 1.0
        for code in way:
            machine = mill.machine_by_code.get(code)
            left *= 1.0 - (machine.loss_frac if machine is not None else 0.0)
        kept.append(left)
    return 1.0 - min(kept)


def _masses(
    mill: Mill,
    paths: Paths,
    run: Run,
    product: Product,
    feed: Sequence[Batch],
    *,
    has_begun: bool,
) -> Iterable[Finding]:
    """The mass of a run is that of its batches, and its bags hold it."""
    total_mg = sum(batch.mass_mg for batch in feed)
    if total_mg > run.mass_mg or (not has_begun and total_mg != run.mass_mg):
        text = (
            f"{run.run} says {mass_text(mill, run.mass_mg / MG_KG)}; its batches are "
            f"{mass_text(mill, total_mg / MG_KG)}."
        )
        yield stop(
            "run.mass",
            run.run,
            text,
            value=run.mass_mg / MG_KG,
            limit=total_mg / MG_KG,
            unit="kg",
        )
    if run.pack != "bags":
        if run.bags:
            yield stop("run.bags", run.run, f"{run.run} has {run.bags} bags and is not for bags.")
        return
    bag_kg = product.pack_kg or 0.0
    packed_kg = run.bags * bag_kg
    most_kg = run.mass_mg / MG_KG
    least_kg = (
        most_kg * (1 - lost_frac(mill, paths, product))
        - bag_kg
        - more_kg(mill, feed, number=len(run.batches))
    )
    if run.bags < 1 or packed_kg > most_kg + 1e-6 or packed_kg < least_kg - 1e-6:
        text = (
            f"{run.run} would fill {run.bags} bags of {mass_text(mill, bag_kg)} with "
            f"{mass_text(mill, most_kg)}."
        )
        yield stop(
            "run.bags",
            run.run,
            text,
            value=packed_kg,
            limit=most_kg,
            unit="kg",
            source="products table, pack",
        )


def more_kg(mill: Mill, feed: Sequence[Batch], *, number: int) -> float:
    """What batches may make beyond what is wanted: their divisions, or the smallest fill.

    Returns
    -------
    more : float
        Of all of the ``number`` batches together. [kg]
    """
    if not feed:
        return 0.0
    mixer = feed[0].mixer
    division_kg = max((row.division_kg for row in mill.scales if row.machine == mixer), default=1.0)
    machine = mill.machine_by_code.get(mixer)
    least_kg = (machine.mass_min_kg or 0.0) if machine is not None else 0.0
    batch_kg = max(row.mass_mg for row in feed) / MG_KG
    more_kg = division_kg * (number + 1)
    if batch_kg <= least_kg + division_kg:
        more_kg += batch_kg * number
    return more_kg


def _order(
    mill: Mill,
    paths: Paths,
    run: Run,
    product: Product,
    feed: Sequence[Batch],
    *,
    known: Known,
) -> Iterable[Finding]:
    """A run is for an order that there is, and says of it what the order says."""
    if not run.order:
        if run.pack != "stock" or run.customer:
            yield stop("run.order", run.run, f"{run.run} has no order and is not for stock.")
        return
    late_s = 0.0 if run.due_at is None else (run.ready_at - run.due_at).total_seconds()
    if abs(run.late_s - max(0.0, late_s)) > A_SECOND:
        text = f"{run.run} says it is {run.late_s:.0f} s late; by its times it is {late_s:.0f} s."
        yield stop("run.order", run.run, text, value=run.late_s, limit=max(0.0, late_s), unit="s")
    if known.orders is None:
        return
    wanted = known.orders.get(run.order)
    if wanted is None or wanted.order.status == "cancelled":
        text = f"{run.run} is for order {run.order}, which is not among the orders to make."
        yield stop("run.order", run.run, text, source=ORDER)
        return
    yield from _as_ordered(mill, run, wanted)
    made_kg = sum(batch.mass_mg for batch in feed) / MG_KG
    left_kg = wanted.remaining_mg / MG_KG + (product.pack_kg or 0.0)
    lost_kg = lost_frac(mill, paths, product) * run.mass_mg / MG_KG  # of the whole run
    most_kg = left_kg + lost_kg + more_kg(mill, feed, number=len(run.batches))
    if made_kg > most_kg:
        text = (
            f"{run.run} would make {mass_text(mill, made_kg)}; of order {run.order} "
            f"{mass_text(mill, wanted.remaining_mg / MG_KG)} is left to make."
        )
        yield stop(
            "run.order", run.run, text, value=made_kg, limit=most_kg, unit="kg", source=ORDER
        )


def _as_ordered(mill: Mill, run: Run, wanted: OrderToMake) -> Iterable[Finding]:
    order = wanted.order
    pairs = [
        ("customer", mill.name_of(run.customer), mill.name_of(order.customer)),
        ("product", mill.name_of(run.product), mill.name_of(order.product)),
        ("pack", run.pack, order.pack),
    ]
    if run.due_at is None or abs((run.due_at - order.due_at).total_seconds()) > A_SECOND:
        due = "nothing" if run.due_at is None else f"{run.due_at:%Y-%m-%d %H:%M} UTC"
        pairs.append(("time due", due, f"{order.due_at:%Y-%m-%d %H:%M %Z}"))
    for what, has, wants in pairs:
        if has != wants:
            text = f"{run.run} has the {what} {has}; order {run.order} says {wants}."
            yield stop("run.order", run.run, text, source=ORDER)
