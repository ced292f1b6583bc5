"""Values that are worked out when they are first asked for, and kept."""

from collections.abc import Callable
from typing import Any, Generic, TypeVar, overload

Value_co = TypeVar("Value_co", covariant=True)


class computed_once(Generic[Value_co]):  # noqa: N801  used as a decorator, as `property` is
    """What functools.cached_property is from Python 3.12 on; before, that takes a lock that costs more than most values."""

    def __init__(self, make: Callable[[Any], Value_co]) -> None:
        """Hold what works the value out of its holder."""
        self._make, self.__doc__ = make, make.__doc__

    def __set_name__(self, owner: type, name: str) -> None:
        """The name under which the holder keeps it; found there first the next time."""
        self._name = name

    @overload
    def __get__(self, holder: None, owner: type) -> "computed_once[Value_co]": ...
    @overload
    def __get__(self, holder: object, owner: type) -> Value_co: ...
    def __get__(self, holder: object | None, owner: type) -> "Value_co | computed_once[Value_co]":
        """Work it out and keep it."""
        if holder is None:
            return self
        value = holder.__dict__[self._name] = self._make(holder)
        return value
