"""How long the pages take to answer a run that is dragged: asked about while held, and dropped.

    .venv/bin/python benchmarks/bench_drag.py [--day 2026-11-26] [--moves 60]

The real application in this process, asked over HTTP without a network, on the demo mill with its
past: a record in memory of the disk, a released plan, a session of the manager. Each answer is the
whole of it: guard, session, order walked, both pictures, the piece of the page. The goal is 100 ms.
"""

import argparse
import asyncio
import datetime as dt
import platform
import random
import re
import statistics
import tempfile
import time
from collections.abc import Awaitable
from pathlib import Path

import httpx

from bedstone.desk import plan_day
from bedstone.desk.plans import order_of_running
from bedstone.mill.plan import Plan
from bedstone.start import parts
from bedstone.store.door import Door
from bedstone.store.record import open_record
from bedstone.web.app import create_app

BASE = "http://127.0.0.1"
GOAL_MS = 100


class Manager:
    """A signed-in browser without a window."""

    def __init__(self, client: httpx.AsyncClient) -> None:
        self.client = client

    async def hidden(self, page: str) -> dict[str, str]:
        """The hidden fields of a page's forms."""
        text = (await self.client.get(page)).text
        return dict(re.findall(r'name="(token|after)" value="([^"]*)"', text))

    async def post(self, address: str, page: str, **fields: str) -> str:
        """Send a form and give where it leads."""
        data = await self.hidden(page) | fields
        answer = await self.client.post(address, data=data, headers={"Origin": BASE})
        return answer.headers.get("location", "")

    async def opened(self, plan: Plan) -> str:
        """The address of a plan opened to be moved by hand."""
        where = await self.post(f"/plans/{plan.plan}/by-hand", f"/plans/{plan.plan}")
        while where.startswith("/under-way/"):
            await asyncio.sleep(0.1)
            where = (await self.client.get(where)).headers.get("location", where)
        return where


def demo_with_plan(folder: Path, day: dt.date) -> tuple[dict[str, str], Plan, dt.datetime]:
    """The demo mill made in a folder, its day planned and released before the shift."""
    at = dt.datetime.combine(day, dt.time(11), dt.UTC)  # 05:00 at the mill
    made = parts(lambda: at).demo_folder(folder, day, 0, lambda *_: None)
    record = open_record(folder)
    plan = plan_day.make_plan(record, day=day, at=at)
    plan_day.propose(record, plan, by="dell", at=at)
    plan_day.release(record, plan.plan, by="dell", at=at)
    record.close()
    return made.pins, plan, at


def said(name: str, spans: list[tuple[float, float]]) -> None:
    """Say how long answers took, by the clock and in processor time of this process."""
    for kind, times in zip(("clock", "processor"), zip(*spans, strict=True), strict=True):
        ordered = sorted(times)
        late = sum(one > GOAL_MS for one in ordered)
        print(
            f"{name}, {kind}: median {statistics.median(ordered):.0f} ms, "
            f"95 % within {ordered[int(0.95 * (len(ordered) - 1))]:.0f} ms, "
            f"slowest {ordered[-1]:.0f} ms, over {GOAL_MS} ms: {late} of {len(ordered)}"
        )


async def timed(answer: Awaitable[httpx.Response]) -> tuple[float, float]:
    """How long an answer took by the clock and in processor time, in milliseconds."""
    began_s, worked_s = time.perf_counter(), time.process_time()
    (await answer).raise_for_status()
    return (time.perf_counter() - began_s) * 1000, (time.process_time() - worked_s) * 1000


async def measure(manager: Manager, address: str, plan: Plan, *, moves: int) -> None:
    """Ask about and make so many moves of runs to other places of their mixers."""
    rng = random.Random(7)
    order = order_of_running(plan)
    hidden = await manager.hidden(address)
    headers = {"Origin": BASE, "HX-Request": "true"}
    asked, dropped = [], []
    for _ in range(moves):
        run, mixer = rng.choice(order)
        before = rng.choice([one for one, on in order if on == mixer and one != run])
        move = {"run": run, "mixer": mixer, "before": before}
        asked.append(
            await timed(manager.client.get(f"{address}/try", params=move, headers=headers))
        )
        dropped.append(
            await timed(manager.client.post(f"{address}/move", data=hidden | move, headers=headers))
        )
    print(f"{len(order)} runs, {len(plan.batches)} batches")
    said("asked about while held", asked)
    said("dropped, with both pictures", dropped)


async def main(day: dt.date, moves: int) -> None:
    """Make the demo, open its plan, move runs at random, and say how long each answer took."""
    with tempfile.TemporaryDirectory() as folder:
        pins, plan, at = demo_with_plan(Path(folder), day)
        record = open_record(Path(folder))
        app = create_app(record, Door(record.database, lambda: at), clock=lambda: at)
        transport = httpx.ASGITransport(app)
        async with httpx.AsyncClient(transport=transport, base_url=BASE, timeout=60) as client:
            manager = Manager(client)
            await manager.post("/sign-in", "/sign-in", person="dell", pin=pins["dell"], then="/")
            began_s = time.perf_counter()
            address = await manager.opened(plan)
            print(f"opened: {(time.perf_counter() - began_s) * 1000:.0f} ms, once")
            await measure(manager, address, plan, moves=moves)
        record.close()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--day", type=dt.date.fromisoformat, default=dt.date(2026, 11, 26))
    parser.add_argument("--moves", type=int, default=60)
    wanted = parser.parse_args()
    print(f"{platform.machine()}, Python {platform.python_version()}")
    asyncio.run(main(wanted.day, wanted.moves))
