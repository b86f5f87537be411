"""A bank of any size from a seed: resonance and elementary steps of about 20 heavy atoms, a tenth or half of them faulty.

Reactive cores of two open places are filled with side chains. Each (core, chain, chain) comes once, in an order that the
seed decides, and of a core whose places are alike only with the chains in one order, so that no question is asked twice. Half of the answers carry the labels of the start and half none. One
side chain in four holds an aromatic ring in lower case, as people write them.

Where half are faulty, the faults are of all kinds that `KINDS` lists, in turn.

    bank.py 1000000 > bank.csv
    bank.py 1000000 1 half > faulty.csv
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator
from itertools import product
from math import gcd
from typing import NamedTuple, TextIO

HEADER = "id,task,start,arrows,answer\n"
FAULTY = {"tenth": (3, 8), "half": (1, 3, 5, 7, 9, 10, 12, 14, 16, 18)}  # these of every 20 items


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


# Two open places that are alike: on one atom, at the ends of a double bond, in a ring with nothing else, on two oxygens.
ALIKE = r"\(\{a\}\)\(?\{b\}|^\[CH:\d\]\(\{a\}\)=\[CH:\d\]\{b\}|\.\[CH:\d\]\(\{a\}\)=\[CH:\d\]\{b\}|1\(\{a\}\)\[CH:2\]\(\{b\}\)\[Br|^\[O:1\]\{a\}"

Fault = Callable[[str, str, str], tuple[str, str]]


def first_charge(start: str, arrows: str, answer: str) -> tuple[str, str]:
    """The charge of the first charged atom is lost, or the first labelled atom has one."""
    sign = re.search(r"[+-](?=:)", answer)
    if sign:
        return arrows, answer[: sign.start()] + answer[sign.end() :]
    return arrows, re.sub(r"(:\d+\])", r"+\1", answer, count=1)


def last_charge(start: str, arrows: str, answer: str) -> tuple[str, str]:
    """The charge of the last charged atom has the other sign; where none is charged, an atom is."""
    signs = list(re.finditer(r"[+-](?=:)", answer))
    if not signs:
        return first_charge(start, arrows, answer)
    at = signs[-1].start()
    return arrows, answer[:at] + ("-" if answer[at] == "+" else "+") + answer[at + 1 :]


def left_out(start: str, arrows: str, answer: str) -> tuple[str, str]:
    """The last arrow is missing; of a single one, the answer is the start."""
    own = arrows.split("; ")
    return ("; ".join(own[:-1]), answer) if own[1:] else (arrows, start)


def twice(start: str, arrows: str, answer: str) -> tuple[str, str]:
    """The first arrow is drawn twice."""
    return f"{arrows.partition(';')[0]}; {arrows}", answer


def turned_round(start: str, arrows: str, answer: str) -> tuple[str, str]:
    """The last arrow points the other way."""
    own = arrows.split("; ")
    tail, sign, head = own[-1].split(" ")
    return "; ".join([*own[:-1], f"{head} {sign} {tail}"]), answer


def no_atom(start: str, arrows: str, answer: str) -> tuple[str, str]:
    """The first arrow begins at an atom that is not drawn."""
    return re.sub(r"^\d+", "97", arrows), answer


def no_arrow(start: str, arrows: str, answer: str) -> tuple[str, str]:
    """The head of the last arrow is missing."""
    return arrows[: arrows.rindex(">") + 1], answer


def no_bracket(start: str, arrows: str, answer: str) -> tuple[str, str]:
    """A bracket of the answer is not closed."""
    return arrows, answer[: answer.rindex("]")] + answer[answer.rindex("]") + 1 :]


def hydrogens(start: str, arrows: str, answer: str) -> tuple[str, str]:
    """The first carbon of the answer has one hydrogen more, or where there is none, a charge is another."""
    more = re.sub(r"\[([Cc])(H?)(\d?)", lambda own: f"[{own[1]}H{int(own[3] or bool(own[2])) + 1}", answer, count=1)
    return (arrows, more) if more != answer else last_charge(start, arrows, answer)


def element(start: str, arrows: str, answer: str) -> tuple[str, str]:
    """The last atom of the core is another element of its group, or of another group."""
    other = {"O": "S", "N": "P", "C": "Si", "Br": "Cl", "Cl": "Br", "I": "Br", "F": "Cl", "S": "O", "c": "n", "H": "Cl", "P": "N", "B": "Al", "Na": "K"}
    at = [own for own in re.finditer(r"\[([A-Z][a-z]?|c)(?=[H+:\]-])", answer)][-1]
    return arrows, answer[: at.start(1)] + other[at[1]] + answer[at.end(1) :]


def copied(start: str, arrows: str, answer: str) -> tuple[str, str]:
    """The answer is the start."""
    return arrows, start


def exchanged(start: str, arrows: str, answer: str) -> tuple[str, str]:
    """The side chains of the answer have changed places; where they may, a charge is another."""
    if re.search(ALIKE, answer) or re.search(ALIKE, start):
        return last_charge(start, arrows, answer)
    return arrows, answer.replace("{a}", "{c}").replace("{b}", "{a}").replace("{c}", "{b}")


def longer(start: str, arrows: str, answer: str) -> tuple[str, str]:
    """A side chain of the answer has a carbon more."""
    return arrows, answer.replace("{a}", "[CH2]{a}")


def bond(start: str, arrows: str, answer: str) -> tuple[str, str]:
    """A double bond of the answer is drawn single, or a charge is another."""
    return (arrows, answer.replace("=[", "[", 1)) if "=[" in answer and "=1" not in answer else last_charge(start, arrows, answer)


# All kinds of faults.
KINDS: list[Fault] = [
    first_charge, left_out, hydrogens, turned_round, exchanged, no_atom, element, twice, bond, no_bracket, longer, last_charge, no_arrow, copied,
]


def all_faults(core: Core) -> list[tuple[str, str]]:
    """Arrows and answer with one fault of each kind."""
    return [kind(core.start, core.arrows, core.answer) for kind in KINDS]


def items(number: int, seed: int, mix: str = "tenth") -> Iterator[str]:
    """The rows of the bank."""
    a_chains, b_chains = chains(FIRST_LABELS[0]), chains(FIRST_LABELS[1])
    a_plain, b_plain = [plain(c) for c in a_chains], [plain(c) for c in b_chains]
    wrong_of = faults if mix == "tenth" else all_faults
    forms = [
        (core, core.is_symmetric(), wrong_of(core), unlabelled(core.answer), [unlabelled(answer) for _, answer in wrong_of(core)])
        for core in cores()
    ]
    faulty = FAULTY[mix]
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
        if at % 20 in faulty:
            if mix == "tenth":
                kind = at // 20 % (3 if labelled else 2)
            else:
                kind = (at // 20 * len(faulty) + faulty.index(at % 20)) % len(KINDS)
                # Without labels the start may be right: a carboxylate is its other form.
                kind = 0 if KINDS[kind] is copied and not labelled else kind
            arrows, answer = wrong[kind]
            if not labelled:
                answer = wrong_bare[kind]
        start = core.start.replace("{a}", a).replace("{b}", b)
        if not labelled:
            a, b = a_plain[a_at], b_plain[b_at]
        answer = answer.replace("{a}", a).replace("{b}", b)
        yield f"q{at:08},{core.task},{start},{arrows},{answer}\n"


def write(number: int, seed: int, out: TextIO, mix: str = "tenth") -> None:
    """The bank as CSV, a thousand rows at a time."""
    out.write(HEADER)
    rows: list[str] = []
    for row in items(number, seed, mix):
        rows.append(row)
        if len(rows) == 1000:
            out.write("".join(rows))
            rows.clear()
    out.write("".join(rows))


if __name__ == "__main__":
    write(int(sys.argv[1]), int(sys.argv[2]) if sys.argv[2:] else 1, sys.stdout, *sys.argv[3:4])
