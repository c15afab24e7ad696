"""A sequence whose items are made when they are asked for."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

T = TypeVar("T")


class Lazily(Sequence[T]):
    """Items by number, each of which is made once, when it is first asked for."""

    def __init__(self, make: Callable[[int], T], size: int) -> None:
        self._make, self._made, self._size = make, dict[int, T](), size

    def __len__(self) -> int:
        return self._size

    def __reduce__(self) -> tuple[Any, ...]:
        return tuple, (tuple(self),)  # another process gets them all, made

    def __getitem__(self, at: Any) -> Any:
        numbers = range(self._size)[at]
        if isinstance(numbers, range):
            return tuple(self[n] for n in numbers)
        if numbers not in self._made:
            self._made[numbers] = self._make(numbers)
        return self._made[numbers]
