import datetime as dt
from collections import Counter, deque
from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import product
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from bedstone.desk.record import MovementRecorded
from bedstone.ledger.layers import Layers, layers_of
from bedstone.ledger.model import FlowPattern, How, Movement

Script = list[int]
AT = dt.datetime(2026, 3, 2, tzinfo=dt.UTC)

# a step: above nothing a load of so many tokens, each with a lot of its own; below, a draw
steps = st.lists(st.integers(-12, 12).filter(bool), min_size=1, max_size=14)


def _movements(script: Script, sd_mg: int = 0) -> Iterator[MovementRecorded]:
    for n, mass in enumerate(script, start=1):
        movement = Movement(
            from_place="supplier/A" if mass > 0 else "B1",
            to_place="B1" if mass > 0 else "MX1",
            mass_mg=abs(mass),
            material="CORN",
            how=How.WEIGHED,
            lot=f"L-{n}" if mass > 0 else None,
            mass_sd_mg=sd_mg,
        )
        yield MovementRecorded(
            position=n,
            line=1,
            kind="a.b/1",
            happened_at=AT + dt.timedelta(minutes=n),
            movement=movement,
        )


def _nominal(layers: Layers, n: int) -> Counter[str | None]:
    return Counter({share.lot: share.mass_mg for share in layers.shares(n, 1) if share.mass_mg})


def _replay(
    script: Script, take: Callable[[deque[str]], str]
) -> Iterator[tuple[int, Counter[str | None]]]:
    """Move single tokens; yield what each draw was, lots by count. A token owed is paid by the
    first that comes.
    """
    tokens: deque[str] = deque()
    owed = 0
    for n, mass in enumerate(script, start=1):
        for _ in range(max(mass, 0)):
            if owed:
                owed -= 1
            else:
                tokens.append(f"L-{n}")
        if mass < 0:
            drawn: Counter[str | None] = Counter()
            for _ in range(-mass):
                drawn[take(tokens) if tokens else None] += 1
            owed += drawn[None]
            yield n, drawn


@given(steps)
def test_mass_flow_is_a_queue_of_tokens(script: Script):
    """In mass flow the nominal shares are those of moving one token after another, oldest first."""
    layers = layers_of(_movements(script), {"B1": FlowPattern.MASS})
    for n, drawn in _replay(script, deque.popleft):
        assert _nominal(layers, n) == drawn


@given(steps)
def test_funnel_flow_is_a_stack_of_tokens(script: Script):
    """In funnel flow the nominal shares are those of moving one token after another, newest first."""
    layers = layers_of(_movements(script), {"B1": FlowPattern.FUNNEL})
    for n, drawn in _replay(script, deque.pop):
        assert _nominal(layers, n) == drawn


@given(steps)
def test_a_mixed_place_follows_exact_fractions(script: Script):
    """Well mixed shares stay within a milligram for each draw so far of the exact fractions."""
    script = [mass * 1000 for mass in script]
    layers = layers_of(_movements(script), {"B1": FlowPattern.MIXED})
    held: dict[str, Fraction] = {}
    owed, draws = 0, 0
    for n, mass in enumerate(script, start=1):
        if mass > 0:
            held[f"L-{n}"] = Fraction(max(0, mass - owed))
            owed = max(0, owed - mass)
            continue
        draws += 1
        total = sum(held.values())
        part = min(Fraction(1), Fraction(-mass) / total) if total else Fraction(0)
        exact = {lot: mass_mg * part for lot, mass_mg in held.items()}
        held = {lot: mass_mg - exact[lot] for lot, mass_mg in held.items()}
        owed += -mass - int(min(total, -mass))
        found = _nominal(layers, n)
        assert found.total() == -mass
        for lot, mass_mg in exact.items():
            assert abs(found[lot] - mass_mg) <= draws


def _worlds(script: Script) -> list[dict[int, tuple[tuple[int, int], ...]]]:
    """Every way in which tokens may come out of a bin where any may come at any time: the lots of
    each draw, in turn.
    """
    states = [((), ())]
    for n, mass in enumerate(script, start=1):
        after = set()
        for held, past in states:
            there = Counter(dict(held))
            if mass > 0:
                there[n] += mass
                after.add((tuple(sorted(there.items())), past))
                continue
            ranges = [range(min(count, -mass) + 1) for count in there.values()]
            want = min(-mass, there.total())
            for counts in product(*ranges):
                if sum(counts) == want:
                    taken = Counter(dict(zip(there, counts, strict=True)))
                    left = there - taken
                    drawn = tuple(sorted((+taken).items()))
                    after.add((tuple(sorted(left.items())), (*past, (n, drawn))))
        states = list(after)
    return [dict(past) for _, past in states]


def _never_below_nothing(script: Script) -> Script:
    held, kept = 0, []
    for mass in script:
        if held + mass >= 0:
            held += mass
            kept.append(mass)
    return kept


@settings(max_examples=60, deadline=None)
@given(st.lists(st.integers(-4, 4).filter(bool), min_size=2, max_size=6).map(_never_below_nothing))
def test_a_funnel_names_what_must_and_what_may_be_in_a_draw(script: Script):
    """Held against every way in which tokens may come out: what is certain is in each of them, and
    what is in any of them is possible.
    """
    layers = layers_of(_movements(script), {"B1": FlowPattern.FUNNEL})
    for world in _worlds(script):
        for n, drawn in world.items():
            there = {f"L-{made}" for made, _ in drawn}
            shares = layers.shares(n, 1)
            assert {share.lot for share in shares if share.certain} <= there
            assert there <= {share.lot for share in shares}


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.integers(-40, 40).filter(bool), min_size=2, max_size=9).map(_never_below_nothing),
    st.integers(0, 4),
    st.randoms(use_true_random=False),
)
def test_mass_flow_names_what_must_and_may_be_in_a_draw_in_spite_of_errors(
    script: Script, sd_mg: int, random: Random
):
    """Nine or fewer weighings, each wrong by one standard deviation at most, never lead to a lot in
    a draw that is not possible, nor to a draw without a lot that is certain.
    """
    layers = layers_of(_movements(script, sd_mg), {"B1": FlowPattern.MASS})
    true = [
        max(1, abs(mass) + random.randint(-sd_mg, sd_mg)) * (1 if mass > 0 else -1)
        for mass in script
    ]
    for n, drawn in _replay(true, deque.popleft):
        shares = layers.shares(n, 1)
        there = {lot for lot in drawn if lot is not None}
        assert there <= {share.lot for share in shares}
        if None not in drawn:
            assert {share.lot for share in shares if share.certain} <= there


@given(steps, st.sampled_from(FlowPattern))
def test_layers_add_up_to_book_stock_and_shares_to_the_movement(script: Script, flow: FlowPattern):
    """Nothing is lost between layers, shares and books, whatever the flow pattern."""
    layers = layers_of(_movements(script), {"B1": flow})
    assert sum(layer.mass_mg for layer in layers.layers("B1")) == max(0, sum(script))
    for n, mass in enumerate(script, start=1):
        if mass < 0:
            assert sum(share.mass_mg for share in layers.shares(n, 1)) == -mass
