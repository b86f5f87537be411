"""A counter of items on standard error."""

from __future__ import annotations

import sys
import time
from contextlib import contextmanager
from typing import Callable, Iterator, Optional, Union


@contextmanager
def shown(progress: Union[bool, Callable[[int], object]]) -> Iterator[Optional[Callable[[int], object]]]:
    """What an audit tells its progress to."""
    if progress is False:
        yield None
        return
    if callable(progress):
        yield progress
        return
    begun = time.monotonic()

    def tell(items: int) -> None:
        rate = items / max(time.monotonic() - begun, 0.001)
        print(f"\r{items:,} items, {rate:,.0f} a second", end="", file=sys.stderr, flush=True)

    try:
        yield tell
    finally:
        print(file=sys.stderr)
