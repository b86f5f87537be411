"""A bank of any size from a seed: resonance and elementary steps of about 20 heavy atoms, 10 % faulty.

Reactive cores of two open places are filled with side chains. Each (core, chain, chain) comes once, in an order that the
seed decides, and of a core whose places are alike only with the chains in one order, so that no question is asked twice. Half of the answers carry the labels of the start and half none. One
side chain in four holds an aromatic ring in lower case, as people write them.

    bank.py 1000000 > bank.csv
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from itertools import product
from math import gcd
from typing import NamedTuple, TextIO

HEADER = "id,task,start,arrows,answer\n"
FAULTY = 3, 8  # these of every 20 items


class Core(NamedTuple):
    """A question with two open places `{a}` and `{b}`."""

    task: str
    start: str
    arrows: str
    answer: str

    def is_symmetric(self) -> bool:
        """Whether it asks the same with its chains exchanged: both are on one atom, or on the halves of a peroxide."""
        return bool(re.search(r"\(\{a\}\)\(?\{b\}", self.start)) or self.start == "[O:1]({a})[O:2]{b}"


RESONANCE = """
[CH-:1]({a})[C:2](=[O:3]){b} | 1 -> 1-2; 2-3 -> 3 | [CH:1]({a})=[C:2]([O-:3]){b}
[O:1]=[C:2]({a})[NH:3]{b} | 3 -> 2-3; 1-2 -> 1 | [O-:1][C:2]({a})=[NH+:3]{b}
[O-:1][C:2](=[O:3])[CH:4]({a}){b} | 1 -> 1-2; 2-3 -> 3 | [O:1]=[C:2]([O-:3])[CH:4]({a}){b}
[O-:1][N+:2](=[O:3])[CH:4]({a}){b} | 1 -> 1-2; 2-3 -> 3 | [O:1]=[N+:2]([O-:3])[CH:4]({a}){b}
[CH+:1]({a})[CH:2]=[CH:3]{b} | 2-3 -> 1-2 | [CH:1]({a})=[CH:2][CH+:3]{b}
[CH-:1]({a})[CH:2]=[CH:3]{b} | 1 -> 1-2; 2-3 -> 3 | [CH:1]({a})=[CH:2][CH-:3]{b}
[O-:1][C:2]1=[C:3]({a})[CH:4]=[C:5]({b})[CH:6]=[CH:7]1 | 1 -> 1-2; 2-3 -> 3 | [O:1]=[C:2]1[C-:3]({a})[CH:4]=[C:5]({b})[CH:6]=[CH:7]1
[C:1]1({a})=[CH:2][C:3]({b})=[CH:4][CH:5]=[CH:6]1 | 1-2 -> 2-3; 3-4 -> 4-5; 5-6 -> 1-6 | [C:1]=1({a})[CH:2]=[C:3]({b})[CH:4]=[CH:5][CH:6]=1
[CH:1]({a})=[CH:2][C:3](=[O:4]){b} | 3-4 -> 4; 1-2 -> 2-3 | [CH+:1]({a})[CH:2]=[C:3]([O-:4]){b}
[N:1]([CH3:2])({a})[CH:3]=[CH:4]{b} | 1 -> 1-3; 3-4 -> 4 | [N+:1]([CH3:2])({a})=[CH:3][CH-:4]{b}
[CH+:1]({a})[O:2]{b} | 2 -> 1-2 | [CH:1]({a})=[O+:2]{b}
[N-:1]=[N+:2]=[N:3][CH:4]({a}){b} | 1 -> 1-2; 2-3 -> 3 | [N:1]#[N+:2][N-:3][CH:4]({a}){b}
[S:1](=[O:2])({a}){b} | 1-2 -> 2 | [S+:1]([O-:2])({a}){b}
[NH:1]({a})[C:2]1=[CH:3][C:4]({b})=[CH:5][CH:6]=[CH:7]1 | 1 -> 1-2; 2-3 -> 3 | [NH+:1]({a})=[C:2]1[CH-:3][C:4]({b})=[CH:5][CH:6]=[CH:7]1
[CH+:1]({a})[C:2]1=[CH:3][CH:4]=[C:5]({b})[CH:6]=[CH:7]1 | 2-3 -> 1-2 | [CH:1]({a})=[C:2]1[CH+:3][CH:4]=[C:5]({b})[CH:6]=[CH:7]1
[NH:1]({a})[C:2](=[NH2+:3])[NH:4]{b} | 1 -> 1-2; 2-3 -> 3 | [NH+:1]({a})=[C:2]([NH2:3])[NH:4]{b}
[N:1]1({a})[CH:2]=[CH:3][CH:4]=[C:5]1{b} | 1 -> 1-2; 2-3 -> 3 | [N+:1]1({a})=[CH:2][CH-:3][CH:4]=[C:5]1{b}
[CH:1]({a})[CH:2]=[CH:3]{b} | 1 ~> 1-2; 2-3 ~> 1-2; 2-3 ~> 3 | [CH:1]({a})=[CH:2][CH:3]{b}
"""

STEPS = """
[OH-:1].[CH:2]({a})({b})[Br:3] | 1 -> 1-2; 2-3 -> 3 | [Br-:3].[OH:1][CH:2]({a}){b}
[C:1]([CH3:2])({a})({b})[Cl:3] | 1-3 -> 3 | [C+:1]([CH3:2])({a}){b}.[Cl-:3]
[C+:1]([CH3:2])({a}){b}.[OH2:3] | 3 -> 1-3 | [OH2+:3][C:1]([CH3:2])({a}){b}
[OH-:1].[H:2][CH:3]({a})[CH:4]({b})[Br:5] | 1 -> 1-2; 2-3 -> 3-4; 4-5 -> 5 | [OH:1][H:2].[CH:3]({a})=[CH:4]{b}.[Br-:5]
[NH2-:1].[CH2:3]({a})[CH:4]({b})[Br:5] | 1 -> 1-3h; 3-3h -> 3-4; 4-5 -> 5 | [CH:3]({a})=[CH:4]{b}.[NH3:1].[Br-:5]
[N:1]#[C-:2].[C:3]({a})({b})=[O:4] | 2 -> 2-3; 3-4 -> 4 | [N:1]#[C:2][C:3]({a})({b})[O-:4]
[O-:1][C:2]({a})([O:3]{b})[Cl:4] | 1 -> 1-2; 2-4 -> 4 | [Cl-:4].[O:1]=[C:2]({a})[O:3]{b}
[NH:1]({a}){b}.[H:2][Cl:3] | 1 -> 1-2; 2-3 -> 3 | [NH+:1]({a})({b})[H:2].[Cl-:3]
[CH+:1]({a})[C:2]([H:3])([CH3:4]){b} | 2-3 -> 1-3 | [CH:1]({a})([H:3])[C+:2]([CH3:4]){b}
[CH:1]({a})=[CH:2]{b}.[H:3][Br:4] | 1-2 -> 1-3; 3-4 -> 4 | [Br-:4].[CH:1]({a})([H:3])[CH+:2]{b}
[CH:1]({a})=[CH:2]{b}.[Br:3][Br:4] | 1-2 -> 1-3; 3 -> 2-3; 3-4 -> 4 | [CH:1]1({a})[CH:2]({b})[Br+:3]1.[Br-:4]
[OH-:1].[CH:2]1({a})[CH:3]({b})[O:4]1 | 1 -> 1-2; 2-4 -> 4 | [OH:1][CH:2]({a})[CH:3]({b})[O-:4]
[CH2-:1][C:2](=[O:3]){a}.[CH:4](=[O:5]){b} | 1 -> 1-4; 4-5 -> 5 | [CH2:1]([C:2](=[O:3]){a})[CH:4]([O-:5]){b}
[CH2-:1][C:2](=[O:3]){a}.[CH2:4]=[CH:5][C:6](=[O:7]){b} | 1 -> 1-4; 4-5 -> 5-6; 6-7 -> 7 | [CH2:1]([C:2](=[O:3]){a})[CH2:4][CH:5]=[C:6]([O-:7]){b}
[CH:1]({a})=[CH:2][CH:3]=[CH2:4].[CH2:5]=[CH:6]{b} | 1-2 -> 2-3; 3-4 -> 4-5; 5-6 -> 1-6 | [CH:1]1({a})[CH:2]=[CH:3][CH2:4][CH2:5][CH:6]1{b}
[H:1][BH3-:2].[C:3]({a})({b})=[O:4] | 1-2 -> 1-3; 3-4 -> 4 | [BH3:2].[H:1][C:3]({a})({b})[O-:4]
[C:1]({a})({b})=[O:2].[H:3][OH2+:4] | 2 -> 2-3; 3-4 -> 4 | [OH2:4].[C:1]({a})({b})=[O+:2][H:3]
[O-:1][CH3:2].[H:3][CH:4]({a})[C:5](=[O:6]){b} | 1 -> 1-3; 3-4 -> 4-5; 5-6 -> 6 | [O:1]([CH3:2])[H:3].[CH:4]({a})=[C:5]([O-:6]){b}
[Cl:1].[H:2][CH:3]({a}){b} | 1 ~> 1-2; 2-3 ~> 1-2; 2-3 ~> 3 | [Cl:1][H:2].[CH:3]({a}){b}
[Br:1].[CH2:2]=[C:3]({a}){b} | 1 ~> 1-2; 2-3 ~> 1-2; 2-3 ~> 3 | [Br:1][CH2:2][C:3]({a}){b}
[O:1]({a})[O:2]{b} | 1-2 ~> 1; 1-2 ~> 2 | [O:1]{a}.[O:2]{b}
[CH:1]({a})=[CH:2][O:3][CH2:4][CH:5]=[CH:6]{b} | 1-2 -> 1-6; 5-6 -> 4-5; 3-4 -> 2-3 | [CH:1]({a})([CH:2]=[O:3])[CH:6]({b})[CH:5]=[CH2:4]
[C:1]1({a})=[CH:2][C:3]({b})=[CH:4][CH:5]=[CH:6]1.[O:7]=[N+:8]=[O:9] | 1-2 -> 2-8; 7-8 -> 7 | [C+:1]1({a})[CH:2]([N+:8]([O-:7])=[O:9])[C:3]({b})=[CH:4][CH:5]=[CH:6]1
[B:1]([F:2])([F:3])[F:4].[O:5]({a}){b} | 5 -> 1-5 | [B-:1]([F:2])([F:3])([F:4])[O+:5]({a}){b}
[OH2+:1][C:2]({a})({b})[NH:3][CH3:4] | 3 -> 2-3; 1-2 -> 1 | [OH2:1].[C:2]({a})({b})=[NH+:3][CH3:4]
[OH-:1].[H:2][O:3][c:4]1[c:5]({a})[cH:6][c:7]({b})[cH:8][cH:9]1 | 1 -> 1-2; 2-3 -> 3 | [OH:1][H:2].[O-:3][c:4]1[c:5]({a})[cH:6][c:7]({b})[cH:8][cH:9]1
[Na+:4].[C-:1]#[N:2].[CH:3]({a})({b})[I:5] | 1 -> 1-3; 3-5 -> 5 | [N:2]#[C:1][CH:3]({a}){b}.[I-:5].[Na+:4]
[NH:1]({a})[CH3:2].[C:3]({b})(=[O:4])[Cl:5] | 1 -> 1-3; 3-4 -> 4 | [NH+:1]({a})([CH3:2])[C:3]({b})([O-:4])[Cl:5]
[CH2-:1][P+:2]({a})([CH3:3])[CH3:4].[CH:5](=[O:6]){b} | 1 -> 1-5; 5-6 -> 6 | [CH2:1]([P+:2]({a})([CH3:3])[CH3:4])[CH:5]([O-:6]){b}
"""

# Pieces of side chains, `{}` where a label goes, and their heavy atoms.
LINKS = ["", "[CH2:{}]", "[CH:{}]([CH3:{}])", "[CH2:{}][O:{}]", "[CH2:{}][S:{}]", "[CH2:{}][CH2:{}][NH:{}]", "[C:{}](=[O:{}])[CH2:{}]", "[CH:{}]([OH:{}])", "[CH:{}]([F:{}])"]
ENDS = [
    "[CH3:{}]",
    "[CH2:{}][OH:{}]",
    "[CH2:{}][Br:{}]",
    "[CH2:{}][I:{}]",
    "[CH2:{}][CH3:{}]",
    "[CH2:{}][CH:{}]([CH3:{}])[CH3:{}]",
    "[CH2:{}][C:{}]#[N:{}]",
    "[CH2:{}][CH:{}]=[CH2:{}]",
    "[CH2:{}][C:{}]([F:{}])([F:{}])[F:{}]",
    "[CH:{}]8[CH2:{}][CH2:{}][CH2:{}][CH2:{}]8",
    "[CH2:{}][CH2:{}][Cl:{}]",
    "[c:{}]8[cH:{}][cH:{}][cH:{}][cH:{}][cH:{}]8",
    "[c:{}]8[cH:{}][cH:{}][n:{}][cH:{}][cH:{}]8",
]
FIRST_LABELS = 20, 50


def cores() -> list[Core]:
    """All cores, resonance first."""
    tables = (("resonance", RESONANCE), ("step", STEPS))
    return [Core(task, *line.split(" | ")) for task, table in tables for line in table.strip().splitlines()]


def chains(first_label: int) -> list[str]:
    """The side chains, labelled from a number on: four to six heavy atoms, up to ten with an aromatic ring."""
    patterns = dict.fromkeys("".join(parts) for parts in product(LINKS, LINKS, LINKS, ENDS))
    sized = [p for p in patterns if 4 <= p.count("{}") <= (10 if "[c" in p else 6)]
    return [pattern.format(*range(first_label, first_label + pattern.count("{}"))) for pattern in sized]


def plain(text: str) -> str:
    """A side chain without labels, its atoms as the organic subset writes them."""
    return re.sub(r"\[(Cl|Br|[A-Za-z])H?\d?:\d+\]", r"\1", text)


def unlabelled(text: str) -> str:
    """A core without labels."""
    return re.sub(r":\d+\]", "]", text)


def faults(core: Core) -> list[tuple[str, str]]:
    """Arrows and answer with one fault: a charge lost or added, an arrow left out, the start copied.

    The last is for labelled answers only: without labels the start of a carboxylate is its product too.
    """
    sign = re.search(r"[+-](?=:)", core.answer)
    if sign:
        charge = core.answer[: sign.start()] + core.answer[sign.end() :]
    else:
        charge = re.sub(r"(:\d+\])", r"+\1", core.answer, count=1)
    arrows = core.arrows.split("; ")
    left_out = ("; ".join(arrows[:-1]), core.answer) if arrows[1:] else (core.arrows, core.start)
    return [(core.arrows, charge), left_out, (core.arrows, core.start)]


def items(number: int, seed: int) -> Iterator[str]:
    """The rows of the bank."""
    a_chains, b_chains = chains(FIRST_LABELS[0]), chains(FIRST_LABELS[1])
    a_plain, b_plain = [plain(c) for c in a_chains], [plain(c) for c in b_chains]
    forms = [
        (core, core.is_symmetric(), faults(core), unlabelled(core.answer), [unlabelled(answer) for _, answer in faults(core)])
        for core in cores()
    ]
    n = len(a_chains)
    # Two different chains, so that no core becomes symmetric.
    pairs = n * (n - 1)
    total = len(forms) * pairs
    different = total - sum(core.is_symmetric() for core in cores()) * pairs // 2
    if number > different:
        raise SystemExit(f"{different} different questions, {number} asked")
    step = 7_368_787 + 2 * seed
    while gcd(step, total) != 1:
        step += 1
    place = seed % total
    for at in range(1, number + 1):
        while True:
            place = (place + step) % total
            rest, core_at = divmod(place, len(forms))
            b_at, a_at = divmod(rest, n)
            b_at += b_at >= a_at
            core, is_symmetric, wrong, bare, wrong_bare = forms[core_at]
            if not is_symmetric or a_at < b_at:
                break
        a, b = a_chains[a_at], b_chains[b_at]
        arrows, labelled = core.arrows, at % 2
        answer = core.answer if labelled else bare
        if at % 20 in FAULTY:
            kind = at // 20 % (3 if labelled else 2)
            arrows, answer = wrong[kind]
            if not labelled:
                answer = wrong_bare[kind]
        start = core.start.replace("{a}", a).replace("{b}", b)
        if not labelled:
            a, b = a_plain[a_at], b_plain[b_at]
        answer = answer.replace("{a}", a).replace("{b}", b)
        yield f"q{at:08},{core.task},{start},{arrows},{answer}\n"


def write(number: int, seed: int, out: TextIO) -> None:
    """The bank as CSV, a thousand rows at a time."""
    out.write(HEADER)
    rows: list[str] = []
    for row in items(number, seed):
        rows.append(row)
        if len(rows) == 1000:
            out.write("".join(rows))
            rows.clear()
    out.write("".join(rows))


if __name__ == "__main__":
    write(int(sys.argv[1]), int(sys.argv[2]) if sys.argv[2:] else 1, sys.stdout)
