"""Groups of bodies that are like one another, so that one can speak for all."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..arrays import Array, Index, Mask


@dataclass(frozen=True)
class Groups:
    """Bodies in groups, none of them empty.

    Attributes
    ----------
    order : numbers of the bodies, group by group, in each the densest first. begin : (groups + 1,), where each group
        begins in `order`.
    """

    order: Index
    begin: Index

    @classmethod
    def by(cls, key: Index, v: Array) -> Groups:
        """The bodies of each key as one group; `v` : specific volumes."""
        order = np.lexsort((v, key))
        return cls(order, np.append(np.flatnonzero(np.diff(key[order], prepend=-1)), len(order)))

    @classmethod
    def joined(cls, parts: list[Groups]) -> Groups:
        """The groups of several sets, one set after the other; a body may be in several."""
        sizes = np.concatenate([np.diff(p.begin) for p in parts])
        return cls(np.concatenate([p.order for p in parts]), np.concatenate([[0], np.cumsum(sizes)]))

    def within(self, some: Mask) -> Groups:
        """The groups with only some of the bodies."""
        keep = some[self.order]
        size = np.add.reduceat(keep, self.begin[:-1], dtype=np.intp)
        return Groups(self.order[keep], np.concatenate([[0], np.cumsum(size[size > 0])]))

    def __len__(self) -> int:
        return len(self.begin) - 1

    @cached_property
    def densest(self) -> Index:
        """The densest body of each group."""
        return self.order[self.begin[:-1]]

    @cached_property
    def lightest(self) -> Index:
        """The lightest body of each group."""
        return self.order[self.begin[1:] - 1]

    @cached_property
    def speaker(self) -> Index:
        """The body that speaks for each group: the middle one by density."""
        return np.asarray(self.order[(self.begin[:-1] + self.begin[1:]) // 2])

    def largest(self, value: Array) -> Array:
        """The largest value of the bodies of each group."""
        return np.asarray(np.maximum.reduceat(value[self.order], self.begin[:-1]))

    def places(self, groups: Index) -> tuple[Index, Index]:
        """Places in `order` of all bodies of some groups, one after the other, and from which of the groups each is."""
        begin, size = self.begin[groups], np.diff(self.begin)[groups]
        of = np.repeat(np.arange(len(groups)), size)
        return np.arange(len(of)) + np.repeat(begin - np.cumsum(size) + size, size), of
