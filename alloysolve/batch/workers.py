"""The processes that answer rows. They end with the process that started them, however that ends."""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager


@contextmanager
def workers(executor: Executor | None, jobs: int, chunks: int) -> Iterator[tuple[Executor | None, int]]:
    """The executor that was given, or processes of one's own, or None to do everything here; and how many work.

    There is never more than one process per core, nor per chunk of the list.
    """
    jobs = min(jobs, os.cpu_count() or 1, chunks)
    if executor is not None or jobs < 2:
        yield executor, max(os.cpu_count() or 1, jobs)
        return
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    before = set(multiprocessing.active_children())
    own = ProcessPoolExecutor(jobs, initializer=_begin)
    try:
        yield own, jobs
    except BaseException:  # also Ctrl-C: nobody waits for what is still being solved
        for process in set(multiprocessing.active_children()) - before:
            process.kill()
        raise
    finally:
        own.shutdown(cancel_futures=True)


def _begin() -> None:
    """What a worker does first: Ctrl-C is left to its parent, and it ends when that does."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    from multiprocessing import connection, parent_process

    if parent := parent_process():
        connection.wait([parent.sentinel])
        os._exit(1)
