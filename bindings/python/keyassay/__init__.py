"""Audits banks of curved-arrow (electron-pushing) questions in organic chemistry.

A question is a drawn start, curved arrows and a stated answer. The answer is recomputed from the arrows; what is wrong with it,
where, why and what it should say are findings.

>>> import keyassay
>>> keyassay.push("[CH2-:1][CH:2]=[O:3]", "1 -> 1-2; 2-3 -> 3").product
'[CH2:1]=[CH:2][O-:3]'

This is bookkeeping of electrons on paper: no laboratory procedure. Local rules and qualified supervision decide what is done.
"""

from __future__ import annotations

import os
from typing import Any, Callable, Iterable, Mapping, Optional, Union

from . import _keyassay
from ._audit import Audit
from ._errors import ArrowsError, KeyassayError, StructureError
from ._keyassay import Finding
from ._progress import shown
from ._rows import BankLike, paths_of, rows_of
from ._structures import Charge, Contributor, Contributors, Drawing, Push, Verdict, verdict_of

__all__ = [
    "ArrowsError",
    "Audit",
    "BankLike",
    "Charge",
    "Contributor",
    "Contributors",
    "Drawing",
    "Finding",
    "KeyassayError",
    "Push",
    "StructureError",
    "Verdict",
    "audit",
    "contributors",
    "draw",
    "infer",
    "judge",
    "judge_all",
    "push",
]

_Path = Union[str, "os.PathLike[str]"]


def audit(
    bank: BankLike = None,
    *,
    profile: Optional[_Path] = None,
    octet: str = "usual",
    jobs: Optional[int] = None,
    progress: Union[bool, Callable[[int], object]] = False,
) -> Audit:
    """Audits a bank: a path, a list of paths, an iterable of mappings, or a table of pandas, polars or pyarrow.

    Without a bank it is the built-in demonstration bank. Rows have no file; their line is their row, counted from 1. A row whose
    values are texts and numbers is a row of a table, as in a CSV file: steps of one item share `id` and are numbered in `step`. A
    row that nests (`steps`, lists of `arrows`) is a record, as in a JSON file.

    `profile` is a file of settings; without it, `keyassay.toml` beside or above the files applies. `octet` is "usual" or "strict",
    `jobs` the number of threads, `progress` True for a counter on standard error, or a function that is told the number of items.

    >>> import keyassay
    >>> bank = [{"start": "[CH2-:1][CH:2]=[O:3]", "arrows": "1 -> 1-2; 2-3 -> 3", "answer": "[CH2:1]=[CH:2][O:3]"}]
    >>> audit = keyassay.audit(bank)
    >>> audit
    <Audit: 1 item: 0 sound, 1 faulty, 0 undecided, 0 unreadable>
    >>> [(finding.line, finding.finding) for finding in audit]
    [(1, 'mismatched-product'), (1, 'unbalanced-charge')]
    """
    own = _bank(bank, profile=profile, octet=octet, jobs=jobs)
    with shown(progress) as told:
        return Audit(own.audit(told))


def _bank(bank: Any, *, profile: Optional[_Path], octet: str, jobs: Optional[int]) -> _keyassay.Bank:
    if bank is None:
        return _keyassay.Bank(profile=profile, octet=octet, jobs=jobs)
    paths = paths_of(bank)
    if paths is not None:
        return _keyassay.Bank(paths=paths, profile=profile, octet=octet, jobs=jobs)
    rows, columns = rows_of(bank)
    stays = columns is not None or iter(bank) is not bank
    return _keyassay.Bank(rows=rows, columns=columns, profile=profile, octet=octet, jobs=jobs, stays=stays)


def push(start: str, arrows: str) -> Push:
    """Pushes arrows on a start.

    >>> import keyassay
    >>> pushed = keyassay.push("[CH2-:1][CH:2]=[O:3]", "1 -> 1-2; 2-3 -> 3")
    >>> pushed.product
    '[CH2:1]=[CH:2][O-:3]'
    >>> pushed.charges
    [Charge(atom='C1', before=-1, after=0), Charge(atom='C2', before=0, after=0), Charge(atom='O3', before=0, after=-1)]
    >>> print(pushed.ledger[0])
    Arrow 1: a lone pair of C1 moves, and makes a pi bond between C1 and C2.
    """
    product, ledger, charges, drawing, findings = _keyassay.push(start, arrows)
    return Push(product, ledger, [Charge(*own) for own in charges], Drawing(drawing), findings)


def infer(start: str, answer: str) -> list[str]:
    """The fewest arrows that lead from one structure to another, the conventional ones first.

    >>> import keyassay
    >>> keyassay.infer("[CH2-:1][CH:2]=[O:3]", "[CH2:1]=[CH:2][O-:3]")
    ['1 -> 1-2; 2-3 -> 3']
    """
    return _keyassay.infer(start, answer)


def contributors(structure: str) -> Contributors:
    """The resonance contributors of a structure, ranked.

    >>> import keyassay
    >>> for own in keyassay.contributors("[CH2-:1][CH:2]=[O:3]"):
    ...     print(own.rank, own.structure, "by", own.arrows or "no arrows")
    1 [CH2:1]=[CH:2][O-:3] by no arrows
    2 [CH2-:1][CH:2]=[O:3] by 3 -> 2-3; 1-2 -> 1
    """
    found, drawing = _keyassay.contributors(structure)
    return Contributors([Contributor(*own) for own in found], Drawing(drawing))


def draw(
    start: str, arrows: Optional[str] = None, product: bool = False, *, pairs: str = "used", numbers: bool = False
) -> Drawing:
    """A structure with its arrows; `product` draws the product beside it, `pairs="all"` every lone pair.

    >>> import keyassay
    >>> keyassay.draw("[CH2:1]=[CH:2][CH2+:3]", "1-2 -> 2-3").svg[:4]
    '<svg'
    """
    if pairs not in ("used", "all"):
        raise ValueError(f"pairs is 'used' or 'all', not {pairs!r}")
    return Drawing(_keyassay.draw(start, arrows, product, pairs == "all", numbers))


def judge(item: Mapping[str, Any], *, profile: Optional[_Path] = None, octet: str = "usual") -> Verdict:
    """Judges one item. What only a whole bank shows (repeated questions) is not found.

    >>> import keyassay
    >>> item = {"start": "[CH2-:1][CH:2]=[O:3]", "arrows": "1 -> 1-2; 2-3 -> 3", "answer": "[CH2:1]=[CH:2][O-:3]"}
    >>> verdict = keyassay.judge(item)
    >>> verdict.verdict, verdict.findings
    ('sound', [])

    Two items ask the same where their digests of the question are equal, and say the same where those of the answer are.

    >>> again = {"start": "[O:7]=[CH:8][CH2-:9]", "arrows": "8-7 -> 7; 9 -> 9-8", "answer": "[O-:7][CH:8]=[CH2:9]"}
    >>> keyassay.judge(again).digest == verdict.digest
    True
    """
    verdicts = judge_all([item], profile=profile, octet=octet)
    if not verdicts:
        raise KeyassayError("there is no question in the item: it has no structure, and no id with a task, a key or a prompt")
    return verdicts[0]


def judge_all(
    items: Iterable[Mapping[str, Any]], *, profile: Optional[_Path] = None, octet: str = "usual"
) -> list[Verdict]:
    """Judges items one by one, each as if there were no other: a verdict an item, in order. Tables are taken, too.

    >>> import keyassay
    >>> [own.verdict for own in keyassay.judge_all([{"start": "CC", "arrows": "1-2 -> 2", "answer": "C"}])]
    ['faulty']
    """
    rows, columns = rows_of(items)
    judged = _keyassay.Judge(profile=profile, octet=octet).rows(rows, columns)
    return [verdict_of(own) for own in judged]
