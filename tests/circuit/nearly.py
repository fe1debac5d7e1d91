"""Comparing whole records: equal in shape, kind and every word, near in every number."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
from pydantic import BaseModel


def same(found: Any, expected: Any, rel: float = 1e-9, within: float = 1e-12) -> bool:
    """Whether two values are the same, however nested; numbers near, NaN like NaN."""
    if isinstance(found, np.ndarray):
        found = found.tolist()
    if isinstance(expected, np.ndarray):
        expected = expected.tolist()
    if isinstance(expected, BaseModel):
        return type(found) is type(expected) and same(dict(found), dict(expected), rel, within)
    if isinstance(expected, Mapping):
        return list(found) == list(expected) and all(same(found[key], expected[key], rel, within) for key in expected)
    if isinstance(expected, tuple | list):
        plain = type(expected) in (tuple, list)
        return (
            isinstance(found, tuple | list)
            and (plain or type(found) is type(expected))
            and len(found) == len(expected)
            and all(same(one, other, rel, within) for one, other in zip(found, expected, strict=True))
        )
    if isinstance(expected, float) and isinstance(found, float):
        both_nan = math.isnan(found) and math.isnan(expected)
        return both_nan or math.isclose(found, expected, rel_tol=rel, abs_tol=within)
    return type(found) is type(expected) and found == expected
