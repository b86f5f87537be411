"""What an audit came to."""

from __future__ import annotations

import html
import json
import os
import re
from functools import cached_property, lru_cache
from typing import Any, Iterator, Sequence, Union

from . import _keyassay
from ._keyassay import Finding


CAUTION = (
    "This is bookkeeping of electrons on paper: no laboratory procedure. "
    "Local rules and qualified supervision decide what is done."
)


@lru_cache(maxsize=1)
def _style() -> str:
    """The style of the audit's page, for what stands in one box of a notebook only (CSS nesting)."""
    style = _keyassay.style()
    for own in (":root", "html", "body"):
        style = re.sub(rf"(?<![\w.#-]){own}(?![\w-])", "&", style)
    return f"<style>.keyassay{{{style}}}.keyassay article{{margin:1em 0}}</style>"


class Audit:
    """Totals and findings of a bank.

    >>> import keyassay
    >>> audit = keyassay.audit()
    >>> audit.totals["items"] == sum(audit.totals[own] for own in ("sound", "faulty", "undecided", "unreadable"))
    True
    >>> len(audit) == len(audit.findings)
    True
    """

    def __init__(self, audit: _keyassay.Audit) -> None:
        self._audit = audit

    @cached_property
    def totals(self) -> dict[str, Any]:
        """The counts, named as in audit.json; `findings` counts findings by name."""
        totals: dict[str, Any] = json.loads(self._audit.totals)
        return totals

    @cached_property
    def findings(self) -> list[Finding]:
        """All findings in the order of the bank."""
        return self._audit.findings

    @property
    def notes(self) -> list[str]:
        """What there is to say of files and rows: not read, passed over, without a question.

        >>> import keyassay
        >>> keyassay.audit([{"id": "q1", "start": "CC", "arrows": "1-2 -> 2", "answer": "[CH3+].[CH3-]"}, {"start": "Total"}]).notes
        ['without a question: the rows: 1 row (line 2)']
        """
        return self._audit.notes

    def __iter__(self) -> Iterator[Finding]:
        return iter(self.findings)

    def __len__(self) -> int:
        return len(self.findings)

    def __bool__(self) -> bool:
        return True

    def __repr__(self) -> str:
        return f"<Audit: {self._counts()}>"

    def _counts(self) -> str:
        items = self.totals["items"]
        parts = ", ".join(f"{self.totals[own]:,} {own}" for own in ("sound", "faulty", "undecided", "unreadable"))
        return f"{items:,} {'item' if items == 1 else 'items'}: {parts}"

    def to_pandas(self) -> Any:
        """The findings as a DataFrame of pandas, with the columns of audit.csv."""
        import pandas  # type: ignore[import-untyped,unused-ignore]

        return pandas.DataFrame(self._audit.columns()).astype({"step": "Int64"})

    def to_polars(self) -> Any:
        """The findings as a DataFrame of polars, with the columns of audit.csv."""
        import polars

        whole = {"line": polars.Int64, "step": polars.Int64}
        columns = self._audit.columns()
        return polars.DataFrame(columns, schema={name: whole.get(name, polars.String) for name in columns})

    def to_arrow(self) -> Any:
        """The findings as a table of pyarrow, with the columns of audit.csv."""
        import pyarrow  # type: ignore[import-untyped,unused-ignore]

        columns = self._audit.columns()
        whole = ("line", "step")
        schema = pyarrow.schema([(name, pyarrow.int64() if name in whole else pyarrow.string()) for name in columns])
        return pyarrow.table(columns, schema=schema)

    def write(
        self, folder: Union[str, "os.PathLike[str]"], formats: Union[str, Sequence[str]] = ("csv", "html", "json")
    ) -> None:
        """Reads the bank again and writes reports of it into a folder: csv, html, json, sarif, junit, xlsx.

        >>> import os, tempfile, keyassay
        >>> folder = tempfile.mkdtemp()
        >>> keyassay.audit().write(folder, ["csv"])
        >>> sorted(os.listdir(folder))
        ['audit.csv', 'corrections.csv', 'corrections.files.csv']
        """
        names = formats.split(",") if isinstance(formats, str) else list(formats)
        self._audit.write(folder, names)

    def _repr_html_(self) -> str:
        found = sorted(self.totals["findings"].items(), key=lambda own: (-own[1], own[0]))
        rows = "".join(f"<tr><td>{count:,}</td><td>{html.escape(name)}</td></tr>" for name, count in found)
        cards = self._audit.cards()
        items = self._audit.with_findings()
        more = f"<p>{items - len(cards):,} more items with findings</p>" if items > len(cards) else ""
        return (
            f'<div class="keyassay">{_style()}<p><strong>{html.escape(self._counts())}</strong></p>'
            f"<table>{rows}</table>{''.join(f'<article>{own}</article>' for own in cards)}{more}<p>{CAUTION}</p></div>"
        )
