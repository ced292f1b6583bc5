"""Bodies that are made to take long to refuse, by how many bytes they have."""

import json
from collections.abc import Callable, Mapping
from typing import Any

DEEPEST = 400


def with_members(good: Any, number: int) -> Any:
    """As many members that nobody knows."""
    return {**good, **{f"m{each}": 1 for each in range(number // 10)}}


def with_long_lists(good: Any, number: int) -> Any:
    """Each list in it as long as the others, with good items alone; something else is wrong."""
    return {**_repeated(good, number // 4 // max(1, _items(good)), []), "m": 1}


def with_wrong_items(good: Any, number: int) -> Any:
    """Each list in it as long as the others, with items of another type behind the good ones."""
    return _repeated(good, 1, [None] * (number // 6 // max(1, _lists(good))))


def with_deep_keys(good: Any, number: int) -> Any:
    """Numbers that are none, as deep in keys as long as they may be."""
    inner: Any = [float("nan")] * (number // 10)
    # Deeper ones are refused for that.
    for _ in range(min(number // 250, DEEPEST)):
        inner = {"k" * 100: inner}
    return {**good, "m": inner}


def _repeated(good: Any, times: int, more: list[Any]) -> Any:
    if isinstance(good, dict):
        return {name: _repeated(each, times, more) for name, each in good.items()}
    return [*(_repeated(each, 1, []) for each in good * max(1, times)), *more] if isinstance(good, list) else good


def _items(good: Any) -> int:
    """Bytes of all lists."""
    if isinstance(good, dict):
        return sum(map(_items, good.values()))
    return len(json.dumps(good)) if isinstance(good, list) else 0


def _lists(good: Any) -> int:
    if isinstance(good, dict):
        return sum(map(_lists, good.values()))
    return 1 if isinstance(good, list) else 0


MADE: Mapping[str, Callable[[Any, int], Any]] = {
    each.__name__: each for each in (with_members, with_long_lists, with_wrong_items, with_deep_keys)
}
TEXTS: Mapping[str, Callable[[bytes, int], bytes]] = {
    "keys that stand twice": lambda good, number: b'{"m": 1' + b', "m": 1' * (number // 8) + b", " + good[1:],
    "half a surrogate pair": lambda good, number: b'{"m": [' + b'"\\ud800", ' * (number // 10) + b"1], " + good[1:],
    "brackets": lambda good, number: b'{"m": [' + b"[]," * (number // 3) + b"1], " + good[1:],
    "a long text": lambda good, number: b'{"m": "' + b"\\n" * (number // 2) + b'", ' + good[1:],
    "white space": lambda good, number: good[:1] + b" \n" * (number // 2) + good[1:],
    "the end is lost": lambda _, number: b'{"m": [' + b"1.5, " * (number // 5),
}
HEADER = b"characteristic,unit,value,package,remark\n"
CSV: Mapping[str, Callable[[int], bytes]] = {
    "columns twice": lambda number: b"value," * (number // 6),
    "columns that nobody knows": lambda number: b"x1," * (number // 3),
    "good rows": lambda number: HEADER + b"breaking_force,N,1512,b1,\n" * (number // 26),
    "rows of all kinds of unit": lambda number: HEADER + b"".join(b"a%d,N,1,," % each + b"\n" for each in range(number // 10)),
    "rows that are too long": lambda number: HEADER + b"1," * (number // 2),
    "numbers alone": lambda number: HEADER + b"1\n" * (number // 2),
    "quotes": lambda number: HEADER + b'"\n' * (number // 2),
    "empty lines": lambda number: HEADER + b"\r" * number + b"a",
    "not UTF-8": lambda number: HEADER + b"\xff\n" * (number // 2),
}
NDJSON: Mapping[str, Callable[[int], bytes]] = {
    "members that nobody knows": lambda number: b"{" + b",".join(b'"m%d":1' % each for each in range(number // 9)) + b"}",
    "good rows": lambda number: b'{"characteristic":"breaking_force","unit":"N","value":1}\n' * (number // 56),
    "numbers alone": lambda number: b"1\n" * (number // 2),
    "empty lines": lambda number: b"\n" * number,
    "no JSON": lambda number: b"{" * number,
}
