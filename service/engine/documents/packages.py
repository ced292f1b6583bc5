"""The grade's word for a package in sentences: `ball`, `4 more balls`."""

PACKAGE = "package"
"""The word of a grade that gives none."""
REGULAR = frozenset("abcdefghijklmnopqrstuvwxyz")
WITHOUT_S = ("s", "x", "z", "ch", "sh", "y", "f", "fe", "man")
"""Endings of words whose plural is not the word with an s."""


def packages_in_words(number: int, word: str = PACKAGE, *, more: bool = False) -> str:
    """`1 ball`, `4 balls`, `4 more balls`; a word whose plural is not regular gives `packages` for several.

    number  how many, at least 0
    word    the grade's `package`, as the grade writes it
    """
    between = " more" if more else ""
    return f"{number}{between} {word if number == 1 else plural_of(word)}"


def plural_of(word: str) -> str:
    """`balls` for `ball`; `packages` where the plural is not the word with an s, as of `box` or of several words."""
    is_regular = word != "" and set(word) <= REGULAR and not word.endswith(WITHOUT_S)
    return f"{word}s" if is_regular else "packages"
