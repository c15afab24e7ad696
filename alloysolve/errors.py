"""Every error that the library raises, each with the place, the value, what was expected and the next step."""

from __future__ import annotations

GIVEN = 60  # characters of a value that an error shows


class AlloysolveError(Exception):
    """Base of all errors of this library.

    Attributes
    ----------
    path : place of the fault in the document or call, e.g. ``"reading[0].value"``.
    given : the value as it was given.
    expected : what would have been accepted.
    next_step : what to do about it.

    >>> from alloysolve import weigh
    >>> try:
    ...     weigh("31.18 g", "-3 g")
    ... except AlloysolveError as error:
    ...     print(error.path)
    displaced
    """

    def __init__(self, path: str, given: object, expected: str, next_step: str) -> None:
        self.path = path
        self.given = given
        self.expected = expected
        self.next_step = next_step
        super().__init__(path, given, expected, next_step)

    def __str__(self) -> str:
        return f"{self.path}: {shortened(shown(self.given), GIVEN)}: expected {self.expected}; {self.next_step}"


def shortened(text: str, most: int) -> str:
    """A text, cut short if it is too long for an error of one line."""
    return text if len(text) <= most else text[: most // 2] + "..." + text[most // 2 + 3 - most :]


def shown(given: object) -> str:
    """A value as a person gave it: text in quotes, several values joined, nothing as "nothing"."""
    if given is None or (isinstance(given, list | tuple | dict) and not given):
        return "nothing given"
    if isinstance(given, dict):
        return repr(", ".join(f"{k} {v}" for k, v in given.items()))
    if isinstance(given, list | tuple):
        return repr(" ".join(str(getattr(v, "text", v)) for v in given))
    return repr(getattr(given, "text", given))


class InputError(AlloysolveError):
    """A value of the piece, the settings or a call that cannot be used."""


class TableError(AlloysolveError):
    """A bad row of a table; ``path`` is ``file:line:column``."""


class SolverError(AlloysolveError):
    """A numerical solver that did not succeed. It is never hidden, and never replaced by a guess."""
