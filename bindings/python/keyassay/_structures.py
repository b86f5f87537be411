"""What functions about structures and single items give."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Iterator, NamedTuple, Optional

from ._keyassay import Finding


class Drawing(NamedTuple):
    """A drawing, which a notebook shows.

    >>> import keyassay
    >>> drawing = keyassay.draw("C=O")
    >>> drawing.svg == drawing._repr_svg_()
    True
    """

    svg: str

    def _repr_svg_(self) -> str:
        return self.svg

    def __repr__(self) -> str:
        return f"<Drawing of {len(self.svg)} bytes>"


class Charge(NamedTuple):
    """The formal charge of one atom that an arrow touches."""

    atom: str
    before: int
    after: int


@dataclass(frozen=True)
class Push:
    """What arrows make of a start."""

    #: The product, as SMILES with the labels of the start.
    product: str
    #: Arrows, strings of arrows and charges, in sentences.
    ledger: list[str]
    #: The charge of every atom that an arrow touches.
    charges: list[Charge]
    #: The start with its arrows, and the product.
    drawing: Drawing = field(repr=False)
    #: What is to be said of it: a shell that is over-full, say.
    findings: list[Finding]

    def _repr_svg_(self) -> str:
        return self.drawing.svg


class Contributor(NamedTuple):
    """One resonance contributor."""

    #: Counted from 1; contributors that stand alike share a rank.
    rank: int
    #: As SMILES with labels.
    structure: str
    #: The arrows that lead here from the contributor before it; empty where no one set of arrows does.
    arrows: str


class Contributors(list[Contributor]):
    """The resonance contributors of a structure, and their picture.

    >>> import keyassay
    >>> keyassay.contributors("[CH2:1]=[CH:2][CH2+:3]").drawing
    <Drawing of ... bytes>
    """

    def __init__(self, found: list[Contributor], drawing: Drawing) -> None:
        super().__init__(found)
        self.drawing = drawing

    def _repr_svg_(self) -> str:
        return self.drawing.svg


class Digest(NamedTuple):
    """Fingerprints of a question and its answer, 16 hexadecimal digits each."""

    question: str
    answer: str


@dataclass(frozen=True)
class Verdict:
    """How one item comes out."""

    #: The item's id; `row 1` where it has none.
    item: str
    #: Its row, counted from 1.
    line: int
    #: "sound", "faulty", "undecided" or "unreadable".
    verdict: str
    #: What was found.
    findings: list[Finding]
    #: Fingerprints of what is asked and what is answered; None where nothing is asked that could be told apart.
    digest: Optional[Digest]

    def __iter__(self) -> Iterator[Finding]:
        return iter(self.findings)


def verdict_of(judged: tuple[str, int, str, list[Finding], Optional[tuple[int, int]]]) -> Verdict:
    """A verdict from what the library gives."""
    item, line, verdict, findings, digest = judged
    own = None if digest is None else Digest(f"{digest[0]:016x}", f"{digest[1]:016x}")
    return Verdict(item, line, verdict, findings, own)
