"""Errors, as exceptions with the sentences of the program."""

from __future__ import annotations

from typing import Optional


class KeyassayError(ValueError):
    """A job that could not be done: no such bank, a profile that cannot be read, a report that cannot be written."""


class StructureError(KeyassayError):
    """A structure that cannot be read.

    >>> from keyassay import infer, StructureError
    >>> try:
    ...     infer("C(C", "CC")
    ... except StructureError as error:
    ...     print(error.column)
    2
    """

    def __init__(self, message: str, column: Optional[int] = None) -> None:
        super().__init__(message)
        #: The character of the structure, counted from 1; None where it is about the whole.
        self.column = column


class ArrowsError(KeyassayError):
    """Arrows that cannot be read, or cannot be pushed.

    >>> from keyassay import push, ArrowsError
    >>> try:
    ...     push("C=O", "1-2 -> ")
    ... except ArrowsError as error:
    ...     print(error.column)
    8
    """

    def __init__(self, message: str, column: Optional[int] = None) -> None:
        super().__init__(message)
        #: The character of the arrows, counted from 1; None where it is about the whole.
        self.column = column
