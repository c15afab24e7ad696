"""Every error the library raises, each with the place, the value, what was expected and the next step."""

from __future__ import annotations


class AlloysolveError(Exception):
    """Base of all errors of this library.

    Attributes
    ----------
    path : where in the document or call the fault is, e.g. ``"reading[0].value"``.
    given : the value as it was given.
    expected : what would have been accepted.
    next_step : what to do about it.
    """

    def __init__(self, path: str, given: object, expected: str, next_step: str) -> None:
        self.path = path
        self.given = given
        self.expected = expected
        self.next_step = next_step
        super().__init__(path, given, expected, next_step)

    def __str__(self) -> str:
        return f"{self.path}: {shown(self.given)}: expected {self.expected}; {self.next_step}"


def shown(given: object) -> str:
    """A value as a person gave it: text between quotes, several joined, nothing as "nothing"."""
    if given is None or (isinstance(given, list | tuple | dict) and not given):
        return "nothing given"
    if isinstance(given, dict):
        return repr(", ".join(f"{k} {v}" for k, v in given.items()))
    if isinstance(given, list | tuple):
        return repr(" ".join(str(getattr(v, "text", v)) for v in given))
    return repr(getattr(given, "text", given))


class InputError(AlloysolveError):
    """A value of the piece, the settings or a call cannot be used."""


class TableError(AlloysolveError):
    """A row of a table is bad; ``path`` is ``file:line:column``."""


class SolverError(AlloysolveError):
    """A numerical solver did not succeed; never hidden, never replaced by a guess."""
