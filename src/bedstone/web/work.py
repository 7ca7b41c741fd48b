"""Work that takes longer than a page may: done in a thread, asked about by its number."""

import secrets
import threading
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field

from bedstone.errors import BedstoneError, Unknown
from bedstone.mill.plan import Plan

__all__ = ["PATIENCE_S", "Task", "Work"]

PATIENCE_S = 2.0
"""How long a page waits before it shows how the work goes instead. [s]"""
KEPT = 50
"""How many finished tasks are remembered."""


@dataclass(frozen=True, kw_only=True)
class Task:
    """One piece of work: what it is called, and where to go when it is done."""

    task: str
    name: str
    started_s: float
    future: "Future[str]"

    def age_s(self) -> float:
        """How long it has been running."""
        return time.monotonic() - self.started_s

    def done(self) -> bool:
        """Whether it is over, well or not."""
        return self.future.done()

    def address(self) -> str:
        """Where its result is to be seen; raises what the work raised."""
        return self.future.result()


@dataclass(kw_only=True)
class Work:
    """Tasks of this server, one at a time: plans do not race each other."""

    pool: ThreadPoolExecutor = field(
        default_factory=lambda: ThreadPoolExecutor(max_workers=1, thread_name_prefix="work")
    )
    tasks: dict[str, Task] = field(default_factory=dict)
    plans: dict[str, Plan] = field(default_factory=dict)
    lock: threading.Lock = field(default_factory=threading.Lock)

    def start(self, name: str, act: Callable[[], str], *, join: bool = False) -> Task:
        """Begin an act that returns the address of its result.

        With ``join``, work of the same name that is under way is joined instead of done twice.
        """
        with self.lock:
            for running in self.tasks.values():
                if join and running.name == name and not running.done():
                    return running
        task = Task(
            task=secrets.token_urlsafe(9),
            name=name,
            started_s=time.monotonic(),
            future=self.pool.submit(act),
        )
        with self.lock:
            for old in list(self.tasks)[: max(0, len(self.tasks) - KEPT)]:
                if self.tasks[old].done():
                    del self.tasks[old]
            self.tasks[task.task] = task
        return task

    def wait(self, task: Task) -> str | None:
        """The address of the result if it comes within the page's patience, else None.

        Raises
        ------
        BedstoneError
            Whatever the work raised.
        """
        try:
            return task.future.result(timeout=PATIENCE_S)
        except BedstoneError:
            raise
        except TimeoutError:
            return None

    def find(self, code: str) -> Task:
        """The task of a number.

        Raises
        ------
        Unknown
            If there is none: it is long over, or the server was started again since.
        """
        with self.lock:
            found = self.tasks.get(code)
        if found is None:
            raise Unknown("There is no such work under way.", do="go to Today and start it again")
        return found

    def keep(self, plan: Plan) -> None:
        """Remember a plan that is not in the record."""
        with self.lock:
            self.plans.pop(plan.plan, None)
            self.plans[plan.plan] = plan
            for old in list(self.plans)[:-KEPT]:
                del self.plans[old]

    def plan(self, code: str) -> Plan | None:
        """A remembered plan; None when it is forgotten."""
        with self.lock:
            return self.plans.get(code)

    def close(self) -> None:
        """Let what runs finish and take no more."""
        self.pool.shutdown(wait=True, cancel_futures=True)
