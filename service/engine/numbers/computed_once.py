"""A decorator for attributes that are calculated at first access and then cached on their object."""

from collections.abc import Callable
from typing import Any, Generic, TypeVar, overload

Value_co = TypeVar("Value_co", covariant=True)


class computed_once(Generic[Value_co]):  # noqa: N801  used as a decorator, as `property` is
    """A cached property without a lock; two threads may calculate the same value, which does no harm to a pure function."""

    def __init__(self, make: Callable[[Any], Value_co]) -> None:
        """Take the function that calculates the value of an object."""
        # functools.cached_property does the same from Python 3.12 on; 3.11's takes a lock that costs more than most values.
        self._make, self.__doc__ = make, make.__doc__

    def __set_name__(self, owner: type, name: str) -> None:
        """Remember the attribute's name, under which the object caches the value."""
        # This descriptor has no __set__, so an entry of the object's own dictionary is found before it.
        self._name = name

    @overload
    def __get__(self, holder: None, owner: type) -> "computed_once[Value_co]": ...
    @overload
    def __get__(self, holder: object, owner: type) -> Value_co: ...
    def __get__(self, holder: object | None, owner: type) -> "Value_co | computed_once[Value_co]":
        """Calculate and cache the value; on the class, return the descriptor itself."""
        if holder is None:
            return self
        value = holder.__dict__[self._name] = self._make(holder)
        return value
