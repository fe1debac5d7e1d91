"""A figure of one circuit, or an array with one figure for each of many: the few steps that differ between the two.

What works on both is written once, with these. NumPy is loaded only by those who bring arrays.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import reduce
from operator import or_
from typing import Any

Number = Any
"""A float, or an array of floats."""
Condition = Any
"""A bool, or an array of them."""

NAN = float("nan")
ON_THE_LIMIT = 1e-9
"""Values this close to a limit [relative] are on it: far below what matters, far above rounding."""


def where(condition: Condition, yes: Number, no: Number) -> Number:
    """``yes`` where a condition holds, else ``no``.

    >>> where(2.0 > 1.0, 5.0, 7.0)
    5.0
    """
    if isinstance(condition, bool):
        return yes if condition else no
    import numpy as np

    return np.where(condition, yes, no)


def any_of(conditions: Iterable[Condition]) -> Condition:
    """Whether any of some conditions holds, of each circuit by itself; none of none.

    >>> any_of([False, True]), any_of([])
    (True, False)
    """
    return reduce(or_, conditions, False)


def greater(one: Number, other: Number) -> Number:
    """The greater of two.

    >>> greater(1.0, 2.0)
    2.0
    """
    return where(other > one, other, one)


def lesser(one: Number, other: Number) -> Number:
    """The lesser of two.

    >>> lesser(1.0, 2.0)
    1.0
    """
    return where(other < one, other, one)


def anywhere(condition: Condition) -> bool:
    """Whether a condition holds in any circuit.

    >>> anywhere(2.0 > 1.0)
    True
    """
    return condition if isinstance(condition, bool) else bool(condition.any())


def pick(values: Sequence[Number], index: Number) -> Number:
    """The value of that index, for many circuits each its own; the values may be figures or arrays themselves.

    >>> pick((5.0, 7.0), 1)
    7.0
    """
    if isinstance(index, int):
        return values[index]
    import numpy as np

    if all(isinstance(value, float) for value in values):
        return np.array(values)[index]
    *listed, index = np.broadcast_arrays(*values, index)
    return np.take_along_axis(np.stack(listed), index[None], axis=0)[0]


def mapped(value: Number, change: Callable[[Number], Number]) -> Number:
    """A figure, or a tuple of them however nested, with every array in it changed.

    >>> mapped((1.0, (2.0,)), lambda array: array[:1])
    (1.0, (2.0,))
    """
    if isinstance(value, tuple):
        changed = (mapped(each, change) for each in value)
        return type(value)(*changed) if hasattr(value, "_fields") else tuple(changed)
    return change(value) if hasattr(value, "ndim") else value


def taken(value: Number, cells: Number) -> Number:
    """The same of some circuits, by index."""
    return mapped(value, lambda array: array[cells])


def interpolated(axis: Sequence[float], values: Sequence[Number], at: Number) -> Number:
    """The value of a table at a point: a straight line between two points of its axis, which rises; held beyond it.

    >>> [interpolated((10.0, 20.0), (0.8, 0.9), at) for at in (5.0, 10.0, 15.0, 40.0)]
    [0.8, 0.8, 0.8500000000000001, 0.9]
    """
    below = sum(point <= at for point in axis)
    points = (axis[0] - 1.0, *axis, axis[-1] + 1.0)
    held = (values[0], *values, values[-1])
    low, first = pick(points, below), pick(held, below)
    return first + (pick(held, below + 1) - first) * ((at - low) / (pick(points, below + 1) - low))
