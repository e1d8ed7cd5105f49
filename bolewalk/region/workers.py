"""Where the pieces of work are done: here, in processes of this machine, or on a cluster."""

import multiprocessing
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from typing import Any, Protocol

from bolewalk.model.extras import extra
from bolewalk.region.settings import settings

__all__ = ["Task", "Workers", "WorkersLostError", "workers"]

Task = tuple[Any, ...]
"""Arguments of one call."""

Result = tuple[int, Any]


class WorkersLostError(RuntimeError):
    """Workers were lost again and again; what was finished is kept."""


class Workers(Protocol):
    """Does many calls of one function."""

    def run(self, work: Callable[..., Any], tasks: Sequence[Task]) -> Iterator[Result]:
        """Give (number of the task, result) as they are finished, in any order."""
        ...


class _Here:
    def run(self, work: Callable[..., Any], tasks: Sequence[Task]) -> Iterator[Result]:
        for k, task in enumerate(tasks):
            yield k, work(*task)


class _Processes:
    def __init__(self, count: int) -> None:
        self._count = count
        # Processes of their own from the start: a copy of one that runs threads may hang.
        self._context = multiprocessing.get_context("spawn")
        self._pool: ProcessPoolExecutor | None = None

    def _opened(self) -> ProcessPoolExecutor:
        if self._pool is None:
            self._pool = ProcessPoolExecutor(self._count, mp_context=self._context)
        return self._pool

    def close(self) -> None:
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)
            self._pool = None

    def run(self, work: Callable[..., Any], tasks: Sequence[Task]) -> Iterator[Result]:
        left = dict(enumerate(tasks))
        for _ in range(settings().tries):
            if not left:
                return
            pool = self._opened()
            try:
                for k, result in self._once(pool, work, left):
                    del left[k]
                    yield k, result
            except BrokenProcessPool:
                # A killed process takes the pool with it; finished parts are on disk.
                self.close()
        if left:
            raise WorkersLostError(f"{len(left)} parts were begun {settings().tries} times")

    @staticmethod
    def _once(
        pool: ProcessPoolExecutor, work: Callable[..., Any], left: dict[int, Task]
    ) -> Iterator[Result]:
        # All at once would pickle a city's worth of tasks before the first result.
        waiting = iter(sorted(left.items()))
        running = {}
        while True:
            for k, task in waiting:
                running[pool.submit(work, *task)] = k
                if len(running) >= 64:
                    break
            if not running:
                return
            done, _ = wait(running, return_when=FIRST_COMPLETED)
            for future in done:
                yield running.pop(future), future.result()


class _Cluster:
    def __init__(self, client: Any) -> None:
        self._client = client

    def run(self, work: Callable[..., Any], tasks: Sequence[Task]) -> Iterator[Result]:
        from distributed import as_completed
        from distributed.scheduler import KilledWorker

        futures = {
            self._client.submit(work, *task, pure=False, retries=settings().tries): k
            for k, task in enumerate(tasks)
        }
        try:
            for future in as_completed(list(futures)):  # type: ignore[no-untyped-call]
                yield futures[future], future.result()
                future.release()
        except KilledWorker as e:
            raise WorkersLostError(f"the cluster lost its workers again and again: {e}") from None


@contextmanager
def workers(*, processes: int, scheduler: str | None) -> Iterator[Workers]:
    """Open the workers of a screening.

    Parameters
    ----------
    processes : int
        Processes of this machine; 1 = this one alone.
    scheduler : str or None
        Address of a Dask scheduler, "tcp://host:8786"; its workers must see the same files
        under the same paths.

    Raises
    ------
    MissingExtraError
        A scheduler is named and the extra is not installed.
    OSError
        The scheduler does not answer.
    """
    if scheduler is not None:
        with extra("cluster", what="A cluster"):
            from distributed import Client
        with Client(scheduler) as client:  # type: ignore[no-untyped-call]
            yield _Cluster(client)
    elif processes <= 1:
        yield _Here()
    else:
        pool = _Processes(processes)
        try:
            yield pool
        finally:
            pool.close()
