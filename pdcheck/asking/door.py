"""The door that every question comes in by: an argument of the wrong kind is an ``InputError`` that names it."""

from __future__ import annotations

from functools import wraps

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any, TypeVar

    F = TypeVar("F", bound=Callable[..., Any])


def through_the_door(function: F, name: str) -> F:
    """The function under its name at the front door; it takes what it took, and what breaks it is told in one line.

    The kinds of the arguments are looked at once something has broken, so that a call that is well costs nothing.

    >>> from typing import Any
    >>> def half(volts: float) -> float:
    ...     return volts / 2
    >>> typed: Any = "5V"
    >>> through_the_door(half, "half")(typed)
    Traceback (most recent call last):
    pdcheck.errors.InputError: volts: '5V' is of a kind that this does not take; expected a number
    """

    @wraps(function)
    def asked(*args: Any, **keywords: Any) -> Any:
        try:
            return function(*args, **keywords)
        except (TypeError, AttributeError, LookupError, ValueError, ArithmeticError) as error:
            from pdcheck.errors import InputError

            if isinstance(error, InputError):
                raise
            from pdcheck.asking.kinds_of_arguments import misfit

            wrong = misfit(function, args, keywords)
            if wrong is None:
                raise
            raise wrong from None

    # So that it is pickled by the name that people use.
    asked.__module__, asked.__qualname__ = "pdcheck", name
    return asked  # type: ignore[return-value]
