"""A sentence's first letter, large or small, where words are joined."""

from __future__ import annotations


def upper_first(words: str) -> str:
    """The words with a large first letter.

    >>> upper_first("vertical down")
    'Vertical down'
    """
    return words[:1].upper() + words[1:]


def lower_first(words: str) -> str:
    """The words with a small first letter; a first word all in capitals keeps them.

    >>> lower_first("Vertical down")
    'vertical down'
    >>> lower_first("PROPELLER OFF: pull.")
    'PROPELLER OFF: pull.'
    """
    return words if words[:2].isupper() else words[:1].lower() + words[1:]
