"""Where variants are computed: in this process, in local processes, or on a Dask cluster. Nothing else changes.

An executor takes a function and items and yields (item, result, reason) as they are finished, in any order; result is
None where the item could not be computed because its process was lost, and reason says so. Only a few items wait at a
time, so that a study of any length needs the same memory.
"""

import os
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from functools import partial
from typing import Any, TypeVar

from sim.case import CaseError
from sim.child import ONE_PROCESS, ONE_THREAD, end_when

Item = TypeVar("Item")
Result = TypeVar("Result")
Finished = tuple[Item, Result | None, str]
Executor = Callable[[Callable[[Any], Any], Iterable[Any]], Generator[tuple[Any, Any, str], None, None]]


class ClusterLost(Exception):
    """The scheduler of a cluster is gone: what was finished is stored, the rest was not computed."""

    def __str__(self) -> str:
        return "the cluster's scheduler was lost; what is finished is stored, the same command goes on"


MOST_DEATHS = 3  # processes that one item may take with it before it is given up
WAITING = 3  # items handed over for each process, done and to come
LOST = "the process that computed it was lost {n} times (killed, or out of memory)"


def pin_threads() -> None:
    """One thread, no second process for a run, here and in processes started from here: variants are parallel.

    Acts on libraries loaded later; on those already loaded where threadpoolctl is installed.
    """
    for name in (*ONE_THREAD, ONE_PROCESS):
        os.environ[name] = "1"
    try:
        import threadpoolctl
    except ImportError:
        return
    threadpoolctl.threadpool_limits(1)


def serial(
    work: Callable[[Item], Result], items: Iterable[Item]
) -> Generator[Finished[Item, Result], None, None]:
    """One after the other in this process."""
    pin_threads()
    for item in items:
        yield item, work(item), ""


def processes(
    work: Callable[[Item], Result], items: Iterable[Item], *, count: int
) -> Generator[Finished[Item, Result], None, None]:
    """In `count` local processes, each with one thread. A process that dies is replaced."""
    pin_threads()
    source = iter(items)
    interrupted: list[
        Item
    ] = []  # at work when a process died: run one at a time, so that the guilty one is known
    deaths = 0
    while True:
        alone = bool(interrupted)
        running: dict[Future[Result], Item] = {}
        pool = ProcessPoolExecutor(1 if alone else count, mp_context=_context(), initializer=_watch_parent)
        try:
            yield from _through(
                pool, work, iter(interrupted[:1]) if alone else source, running, WAITING * count
            )
        except BrokenProcessPool:
            deaths += 1
            if not alone:
                interrupted, deaths = list(running.values()), 1
            elif deaths >= MOST_DEATHS:
                yield interrupted.pop(0), None, LOST.format(n=deaths)
                deaths = 1
            continue
        finally:
            pool.shutdown(wait=True, cancel_futures=True)
        if not alone:
            return
        interrupted, deaths = interrupted[1:], 1


def _through(
    pool: ProcessPoolExecutor,
    work: Callable[[Item], Result],
    feed: Iterator[Item],
    running: dict[Future[Result], Item],
    most: int,
) -> Generator[Finished[Item, Result], None, None]:
    """Hand items to a pool, `most` at a time; what is in `running` when it breaks was not finished."""
    while True:
        while len(running) < most:
            item = next(feed, _END)
            if item is _END:
                break
            try:
                running[pool.submit(work, item)] = item
            except BrokenProcessPool:
                running[Future()] = item
                raise
        if not running:
            return
        ready, _ = wait(running, return_when=FIRST_COMPLETED)
        broken: BrokenProcessPool | None = None
        for future in ready:
            try:
                result = future.result()
            except BrokenProcessPool as error:
                broken = error
                continue
            yield running.pop(future), result, ""
        if broken is not None:
            raise broken


_END: Any = object()


def prepare() -> None:
    """Let the process that workers are forked from import the program now, while this one reads the study."""
    context = _context()
    if context.get_start_method() == "forkserver":
        from multiprocessing import forkserver

        forkserver.ensure_running()


def _context() -> Any:
    from multiprocessing import get_all_start_methods, get_context

    # A fork server imports the program once, in a process without threads; where there is none, each worker does.
    context = get_context("forkserver" if "forkserver" in get_all_start_methods() else "spawn")
    if context.get_start_method() == "forkserver":
        context.set_forkserver_preload(["sim.study.run", "pint"])
    return context


def _watch_parent() -> None:
    """In a worker: end with the parent, however that ends, and leave the keyboard's interrupt to it."""
    import signal
    from multiprocessing import parent_process
    from multiprocessing.connection import wait as wait_for

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    parent = parent_process()
    if parent is not None:
        end_when(partial(wait_for, [parent.sentinel]))


def local(count: int) -> Executor:
    """The executor for `count` processes on this machine; 1 is this process itself."""
    return serial if count == 1 else partial(processes, count=count)


def cluster(address: str, *, program: str, patience: float = 10.0) -> tuple[Executor, int]:
    """The executor for the Dask cluster at an address, and its number of threads.

    Raises CaseError where distributed is not installed, nothing answers, no worker is there, or a worker has another
    version of the program (its rows would not be the same).
    """
    try:
        from distributed import Client
    except ImportError:
        message = "a cluster needs the library distributed: pip install 'coldspot[cluster]'"
        raise CaseError(message, key="--cluster") from None
    try:
        client = Client(address, timeout=patience, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        first = str(error).splitlines()[0] if str(error) else type(error).__name__
        message = f"no scheduler answers at {address} ({first[:200]}); accepted: such as tcp://127.0.0.1:8786"
        raise CaseError(message, key="--cluster") from None
    try:
        threads = _checked_workers(client, address, program)
    except BaseException:
        client.close()
        raise
    return partial(_on_cluster, client, threads), threads


def _checked_workers(client: Any, address: str, program: str) -> int:
    from .program import program_version

    threads = sum(int(n) for n in client.nthreads().values())
    if not threads:
        raise CaseError(f"the scheduler at {address} has no worker", key="--cluster")
    try:
        theirs = client.run(program_version)
    except Exception as error:
        message = f"the workers at {address} cannot run this program: {type(error).__name__}: {error}"
        raise CaseError(message, key="--cluster") from None
    for worker, version in theirs.items():
        if version != program:
            message = f"worker {worker} has the program as {version}, here it is {program}"
            raise CaseError(message, key="--cluster")
    return threads


def _on_cluster(
    client: Any, threads: int, work: Callable[[Item], Result], items: Iterable[Item]
) -> Generator[Finished[Item, Result], None, None]:
    """On a Dask cluster; the scheduler hands the work of a lost worker to another. Raises ClusterLost."""
    from distributed.scheduler import KilledWorker

    source = iter(items)
    running: dict[Any, Item] = {}
    with _quiet():
        while True:
            with _lost(client):
                while len(running) < WAITING * threads:
                    item = next(source, _END)
                    if item is _END:
                        break
                    running[client.submit(work, item, pure=False)] = item
                ready = _finished(client, running) if running else ()
            if not running:
                return
            for future in ready:
                item = running.pop(future)
                try:
                    with _lost(client):
                        result = future.result()
                except KilledWorker as error:
                    yield item, None, f"the workers that computed it were lost: {error}"[:300]
                    continue
                yield item, result, ""


def _finished(client: Any, running: dict[Any, Item]) -> Iterable[Any]:
    """Those that are finished, after a few seconds perhaps none. Raises ClusterLost where nobody is left to finish."""
    from distributed import wait as wait_for

    try:
        with client.as_current():
            done: Iterable[Any] = wait_for(list(running), timeout=5.0, return_when="FIRST_COMPLETED").done
    except TimeoutError:
        if client.status != "running":
            raise ClusterLost from None
        return ()
    return done


@contextmanager
def _lost(client: Any) -> Iterator[None]:
    """Whatever way the scheduler's end shows itself becomes ClusterLost."""
    from concurrent.futures import CancelledError

    try:
        yield
    except (CancelledError, OSError) as error:
        raise ClusterLost from error
    except RuntimeError as error:
        if client.status == "running":
            raise
        raise ClusterLost from error


@contextmanager
def _quiet() -> Iterator[None]:
    """Dask's own lines about a lost connection stay away: the command says it once."""
    import logging

    log = logging.getLogger("distributed")
    before = log.level
    log.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        log.setLevel(before)
