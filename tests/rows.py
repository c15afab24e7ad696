"""One test over many rows: as a test each, rows cost pytest more time than their checks take."""

import functools
import inspect
from collections.abc import Callable, Iterable
from typing import Any

SHOWN = 3  # rows whose errors are shown in full; all rows that fail are named


def every(names: str, rows: Iterable[Any], called: Callable[[Any], str] = str) -> Callable[[Callable], Callable]:
    """Runs a test for every row, like `pytest.mark.parametrize`, but as one test that names every row that fails.

    Rows share the fixtures of the test, so it is for checks that change nothing.

    Parameters
    ----------
    names : argument that takes the row, or several arguments with commas, which take its parts.
    called : how a row is named where it fails.
    """
    arguments, rows = [n.strip() for n in names.split(",")], list(rows)
    assert rows, "no rows, nothing tested"

    def over(test: Callable) -> Callable:
        def whole(**fixtures: Any) -> None:
            failed: dict[str, Exception] = {}
            for row in rows:
                given = dict(zip(arguments, row if len(arguments) > 1 else [row], strict=True))
                try:
                    test(**given, **fixtures)
                except Exception as e:
                    failed[called(row)] = e
            if failed:
                first = list(failed.values())[:SHOWN]
                raise ExceptionGroup(f"{len(failed)} of {len(rows)} rows fail: {'; '.join(failed)}", first)

        functools.update_wrapper(whole, test)
        signature = inspect.signature(test)
        left = [p for name, p in signature.parameters.items() if name not in arguments]
        whole.__signature__ = signature.replace(parameters=left)  # type: ignore[attr-defined]  # pytest's fixtures
        return whole

    return over
