"""Random questions with an answer that `push.py` works out: seeded, from pieces of real molecules and from nothing.

Source of the molecules: `NCI/first_5K.smi` of the PyPI wheel `rdkit` (BSD-3-Clause).

A case is a bank item with two more fields: `expect`, the finding that the item must raise, or `sound`; `made`, how it
was made.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from functools import lru_cache

from rdkit import Chem

from freeze_structures import strings
from push import Arrow, Fault, Matrix, folds, landing, outer, push, read, write

ELEMENTS = frozenset("C N O F S P Cl Br I B Si Se".split())
# Bonds that an atom makes in a piece made from nothing, with how often it is drawn.
VALENCE = {"C": 4, "N": 3, "O": 2, "S": 2, "F": 1, "Cl": 1, "Br": 1, "P": 3, "B": 3}
WEIGHTS = [12, 4, 5, 2, 1, 1, 1, 1, 1]
Case = dict[str, str]


@lru_cache(maxsize=1)
def molecules() -> list[Chem.Mol]:
    """The molecules that pieces are cut from: main group, valences as RDKit accepts them, localised."""
    kept = []
    for _, smiles in strings():
        mol = Chem.MolFromSmiles(smiles)
        if mol is None or not {atom.GetSymbol() for atom in mol.GetAtoms()} <= ELEMENTS:
            continue
        Chem.Kekulize(mol, clearAromaticFlags=True)
        if not any(atom.GetNumRadicalElectrons() for atom in mol.GetAtoms()):
            kept.append(mol)
    return kept


class Maker:
    """Makes the cases of one seed."""

    def __init__(self, seed: str) -> None:
        self.random = random.Random(seed)

    # Structures

    def cut(self) -> Matrix:
        """A piece of a real molecule around a random atom; cut bonds end in hydrogens."""
        mol = self.random.choice(molecules())
        wanted = self.random.randint(2, 14)
        inside = [self.random.randrange(mol.GetNumAtoms())]
        for at in inside:
            near = [n.GetIdx() for n in mol.GetAtomWithIdx(at).GetNeighbors() if n.GetIdx() not in inside]
            inside.extend(near[: max(0, wanted - len(inside))])
        matrix = Matrix()
        for at in inside:
            atom = mol.GetAtomWithIdx(at)
            bonds = int(sum(bond.GetBondTypeAsDouble() for bond in atom.GetBonds())) + atom.GetTotalNumHs()
            matrix.add(f"a{at}", atom.GetSymbol(), outer(atom.GetSymbol()) - atom.GetFormalCharge() - bonds)
            cut = sum(int(b.GetBondTypeAsDouble()) for b in atom.GetBonds() if b.GetOtherAtomIdx(at) not in inside)
            self.saturate(matrix, f"a{at}", atom.GetTotalNumHs() + cut)
        for bond in mol.GetBonds():
            if bond.GetBeginAtomIdx() in inside and bond.GetEndAtomIdx() in inside:
                pair = frozenset((f"a{bond.GetBeginAtomIdx()}", f"a{bond.GetEndAtomIdx()}"))
                matrix.shared[pair] = 2 * int(bond.GetBondTypeAsDouble())
        return matrix

    def grow(self) -> Matrix:
        """A piece from nothing: a random tree, rings and multiple bonds while valences allow, then hydrogens."""
        matrix = Matrix()
        spare: dict[str, int] = {}
        for at in range(self.random.randint(1, 9)):
            symbol = self.random.choices(list(VALENCE), WEIGHTS)[0]
            node = f"g{at}"
            open_ends = [other for other, bonds in spare.items() if bonds]
            if spare and not open_ends:
                break
            matrix.add(node, symbol, outer(symbol) - VALENCE[symbol])
            spare[node] = VALENCE[symbol]
            if open_ends:
                self.join(matrix, spare, node, self.random.choice(open_ends))
        for _ in range(self.random.randint(0, 5)):
            open_ends = [other for other, bonds in spare.items() if bonds]
            if len(open_ends) > 1:
                self.join(matrix, spare, *self.random.sample(open_ends, 2))
        for node, bonds in spare.items():
            self.saturate(matrix, node, bonds)
        return matrix

    @staticmethod
    def join(matrix: Matrix, spare: dict[str, int], a: str, b: str) -> None:
        """One more bond between two nodes, up to a triple bond."""
        pair = frozenset((a, b))
        if matrix.shared.get(pair, 0) < 6:
            matrix.shared[pair] = matrix.shared.get(pair, 0) + 2
            spare[a] -= 1
            spare[b] -= 1

    @staticmethod
    def saturate(matrix: Matrix, node: str, hydrogens: int) -> None:
        """Adds hydrogens to a node."""
        for number in range(1, hydrogens + 1):
            matrix.add(f"{node}h{number}", "H", 0)
            matrix.shared[frozenset((node, f"{node}h{number}"))] = 2

    def disturb(self, matrix: Matrix) -> None:
        """Takes off a proton, a hydride or a hydrogen atom, or adds a proton, at a random heavy atom."""
        node = self.random.choice([name for name in matrix.symbol if "h" not in name])
        hydrogens = [name for name in matrix.symbol if name.startswith(f"{node}h")]
        kind = self.random.choice(("proton", "proton", "hydride", "hydrogen atom", "add"))
        if kind == "add":
            if matrix.free[node] >= 2:
                name = f"{node}h{len(hydrogens) + 1}"
                matrix.free[node] -= 2
                matrix.add(name, "H", 0)
                matrix.shared[frozenset((node, name))] = 2
        elif hydrogens:
            gone = hydrogens[-1]
            del matrix.symbol[gone], matrix.free[gone], matrix.shared[frozenset((node, gone))]
            matrix.free[node] += {"proton": 2, "hydride": 0, "hydrogen atom": 1}[kind]

    def start(self) -> Matrix:
        """One to three species."""
        whole = Matrix()
        for part in range(self.random.choices((1, 2, 3), (5, 5, 1))[0]):
            piece = self.cut() if self.random.random() < 0.7 else self.grow()
            for _ in range(self.random.choices((0, 1, 2), (5, 4, 1))[0]):
                self.disturb(piece)
            for node, symbol in piece.symbol.items():
                whole.add(f"{part}{node}", symbol, piece.free[node])
            for pair, electrons in piece.shared.items():
                whole.shared[frozenset(f"{part}{node}" for node in pair)] = electrons
        return whole

    def drawn(self, matrix: Matrix) -> tuple[str, bool]:
        """The start as SMILES and whether it carries atom classes."""
        heavy = [node for node in matrix.symbol if "h" not in node]
        hydrogens = [node for node in matrix.symbol if "h" in node]
        self.random.shuffle(heavy)
        out = self.random.sample(hydrogens, min(len(hydrogens), self.random.choice((0, 0, 0, 1, 2))))
        order = heavy + out
        kind = self.random.choices(("in order", "any", "none"), (5, 3, 3))[0]
        numbers = self.random.sample(range(1, 999), len(order)) if kind == "any" else range(1, len(order) + 1)
        labels = {} if kind == "none" else {node: str(number) for node, number in zip(order, numbers, strict=True)}
        return write(matrix, labels, frozenset(out), order + hydrogens), bool(labels)

    # Arrows

    def some_tail(self, matrix: Matrix, least: int) -> tuple[str, ...] | None:
        """A random place with electrons; heteroatoms, pi bonds and bonds come up about equally."""
        atoms = [(node,) for node, free in matrix.free.items() if free >= least]
        bonds = [tuple(sorted(pair)) for pair in matrix.shared]
        pi = [tuple(sorted(pair)) for pair, electrons in matrix.shared.items() if electrons > 2]
        odd = [(node,) for node, free in matrix.free.items() if free % 2]
        pools = [pool for pool in (atoms, pi, bonds, odd) if pool]
        tail = self.random.choice(self.random.choice(pools)) if pools else None
        return tail if tail is None or len(tail) == 1 or self.random.random() < 0.5 else tail[::-1]

    def some_node(self, matrix: Matrix, besides: tuple[str, ...], near: str | None = None) -> str | None:
        """A random node; mostly a heavy atom, or a neighbour of `near`."""
        if near is not None and self.random.random() < 0.6:
            around = [node for pair in matrix.shared if near in pair for node in pair if node not in besides]
            if around:
                return self.random.choice(around)
        nodes = [node for node in matrix.symbol if node not in besides and ("h" not in node or self.random.random() < 0.1)]
        return self.random.choice(nodes) if nodes else None

    def arrow(self, matrix: Matrix, electrons: int, tail: tuple[str, ...] | None = None) -> Arrow | None:
        """A random arrow whose head touches its tail."""
        tail = tail or self.some_tail(matrix, electrons)
        if tail is None:
            return None
        origin = self.random.choice(tail)
        other = self.some_node(matrix, tail, origin)
        if len(tail) == 2 and (other is None or self.random.random() < 0.5):
            return Arrow(electrons, tail, (origin,))
        if other is None:
            return None
        bare = len(tail) == 1 and self.random.random() < 0.15
        return Arrow(electrons, tail, (other,) if bare else self.random.choice(((origin, other), (other, origin))))

    def relieve(self, matrix: Matrix, arrows: list[Arrow]) -> Arrow | None:
        """An arrow that takes a pair away from a shell that the arrows so far over-fill."""
        node = self.random.choice(push(matrix, arrows).over_full())
        bonds = [pair for pair in matrix.shared if node in pair and not any(set(pair) == set(a.tail) for a in arrows)]
        if not bonds:
            return None
        pair = max(bonds, key=lambda pair: (matrix.shared[pair] + self.random.random() * 3, sorted(pair)))
        (other,) = pair - {node}
        return self.arrow_off(matrix, node, other)

    def arrow_off(self, matrix: Matrix, node: str, other: str) -> Arrow:
        """The pair between two nodes moves to the second, or between the second and a third."""
        third = self.some_node(matrix, (node, other), other)
        if third is None or self.random.random() < 0.5:
            return Arrow(2, (node, other), (other,))
        return Arrow(2, (node, other), (other, third))

    def pairs(self, matrix: Matrix) -> list[Arrow] | None:
        """A string of full-headed arrows: the first is any, each next one relieves what the last over-filled."""
        first = self.arrow(matrix, 2)
        arrows = [first] if first else []
        while arrows and len(arrows) < 6:
            try:
                if not push(matrix, arrows).over_full():
                    return arrows
                following = self.relieve(matrix, arrows)
            except Fault:
                return None
            if following is None:
                return None
            arrows.append(following)
        return None

    def singles(self, matrix: Matrix) -> list[Arrow] | None:
        """Half-headed arrows in twos: out of one bond to both ends, or from two places into one bond."""
        tail = self.some_tail(matrix, 1)
        if tail is None:
            return None
        if len(tail) == 2:
            a, b = tail
            return [Arrow(1, tail, (a,)), Arrow(1, tail, (b,))]
        near = self.some_node(matrix, tail)
        if near is None:
            return None
        bonds = [pair for pair in matrix.shared if near in pair and tail[0] not in pair]
        if bonds and self.random.random() < 0.7:
            broken = tuple(sorted(self.random.choice(bonds)))
            (left,) = set(broken) - {near}
            return [Arrow(1, tail, (tail[0], near)), Arrow(1, broken, (near, tail[0])), Arrow(1, broken, (left,))]
        return [Arrow(1, tail, (tail[0], near)), Arrow(1, (near,), (near, tail[0]))]

    # Cases

    def broken(self, matrix: Matrix, arrows: list[Arrow]) -> tuple[list[Arrow], str] | None:
        """The arrows with one fault put in, and the name of the finding."""
        arrows = list(arrows)
        kind = self.random.choice(("empty-tail", "overdrawn-tail", "unpaired-half-arrow", "detached-head"))
        if kind == "empty-tail":
            empty: list[tuple[str, ...]] = [(node,) for node, free in matrix.free.items() if free == 0]
            unbound = tuple(self.random.sample(list(matrix.symbol), 2)) if len(matrix.symbol) > 1 else None
            if unbound and frozenset(unbound) not in matrix.shared and self.random.random() < 0.5:
                empty = [unbound]
            extra = self.arrow(matrix, 2, self.random.choice(empty)) if empty else None
        elif kind == "overdrawn-tail":
            tail = self.random.choice(arrows).tail
            extra = self.arrow(matrix, 2, tail)
        elif kind == "detached-head":
            extra = self.detached(matrix)
        else:
            extra = self.arrow(matrix, 1)
        if extra is None:
            return None
        arrows.insert(self.random.randint(0, len(arrows)), extra)
        return arrows, kind

    def detached(self, matrix: Matrix) -> Arrow | None:
        """An arrow whose head is between two atoms that the tail has nothing to do with."""
        tail = self.some_tail(matrix, 2)
        apart = [node for node in matrix.symbol if tail and node not in tail and "h" not in node]
        return Arrow(2, tail, tuple(self.random.sample(apart, 2))) if tail and len(apart) > 1 else None

    def misstated(self, start: Matrix, product: Matrix) -> tuple[Matrix, str] | None:
        """The product with one thing wrong: a charge, a hydrogen or a bond; None where that is not drawable."""
        kind = self.random.choice(("charge", "hydrogen", "bond", "start"))
        if kind == "start":
            return None if profile(start) == profile(product) else (start, kind)
        wrong = Matrix(dict(product.symbol), dict(product.free), dict(product.shared))
        if kind == "charge":
            node = self.random.choice([name for name in wrong.symbol if "h" not in name])
            wrong.free[node] += self.random.choice((-2, -1)) if wrong.free[node] > 1 else 1
        elif kind == "hydrogen":
            if not self.lose_hydrogen(wrong):
                return None
        else:
            multiple = [pair for pair, electrons in wrong.shared.items() if electrons > 2]
            if not multiple:
                return None
            wrong.shared[self.random.choice(multiple)] -= 2
        return (wrong, kind) if min(wrong.free.values()) >= 0 and not wrong.over_full() else None

    def lose_hydrogen(self, matrix: Matrix) -> bool:
        """One hydrogen fewer at a random heavy atom, its charge kept; says whether there was one."""
        around = matrix.neighbours()
        bound = [node for node in matrix.symbol if folds(matrix, around, node)]
        if not bound:
            return False
        gone = self.random.choice(bound)
        (heavy,) = around[gone]
        del matrix.symbol[gone], matrix.free[gone], matrix.shared[frozenset((heavy, gone))]
        matrix.free[heavy] += 1
        return True

    def case(self) -> Case | None:
        """One question, or None where the dice made none that is legal."""
        smiles, by_class = self.drawn(self.start())
        matrix = read(smiles)
        if matrix.over_full() or min(matrix.free.values()) < 0:
            return None
        arrows = self.pairs(matrix) if self.random.random() < 0.7 else self.singles(matrix)
        if not arrows:
            return None
        spoil = self.random.random()
        if spoil < 0.2:
            spoiled = self.broken(matrix, arrows)
            return spoiled and self.stopped(smiles, matrix, *spoiled, by_class)
        if spoil < 0.25 and len(arrows) > 1:
            arrows.pop(self.random.randrange(len(arrows)))
        return self.pushed(smiles, matrix, arrows, by_class)

    def stopped(self, smiles: str, matrix: Matrix, arrows: list[Arrow], expect: str, by_class: bool) -> Case | None:
        """An item whose arrows have a fault; its answer is the start."""
        try:
            push(matrix, arrows)
        except Fault as fault:
            if str(fault) == expect:
                labels = {node: node for node in named(matrix)} if by_class else {}
                answer = write(matrix, labels, frozenset(named(matrix)), self.shuffled(matrix))
                return self.item("step", smiles, arrows, answer, expect, "arrows")
        return None

    def pushed(self, smiles: str, matrix: Matrix, arrows: list[Arrow], by_class: bool) -> Case | None:
        """An item whose arrows can be applied, right or with one thing wrong."""
        try:
            product = push(matrix, arrows)
        except Fault:
            return None
        task, expect, made = self.task(matrix, arrows), "sound", "product"
        stated = product
        if product.over_full():
            task, expect = "step", "hypervalent-atom"
        elif task == "sigma":
            task, expect, made = "resonance", "sigma-in-resonance", "task"
        elif self.random.random() < 0.2:
            wrong = self.misstated(matrix, product)
            if wrong is None:
                return None
            (stated, made), expect = wrong, "mismatched-product"
        touched = {node.partition("h")[0] for arrow in arrows for node in (*arrow.tail, *arrow.head)}
        labels = {node: node for node in named(matrix)} if by_class else {}
        if self.random.random() < 0.15:
            labels = {node: node for node in labels if node in touched}
        start = write(matrix, labels, frozenset(named(matrix))) if labels else smiles
        stated_labels = {} if self.random.random() < 0.2 else labels
        answer = write(stated, stated_labels, frozenset(named(stated)), self.shuffled(stated))
        if expect == "sound" and by_class and self.random.random() < 0.4:
            ring_start, ring_answer = delocalised(matrix, touched, labels), delocalised(stated, touched, stated_labels)
            which = self.random.choice(("both", "start", "answer"))
            if ring_start and ring_answer:
                start = ring_start if which != "answer" else start
                answer = ring_answer if which != "start" else answer
                made = "aromatic"
        elif expect == "sound" and self.random.random() < 0.4:
            opened = self.open_heads(arrows)
            arrows, made = opened, made if opened == arrows else "open heads"
        return self.item(task, start, arrows, answer, expect, made)

    def task(self, matrix: Matrix, arrows: list[Arrow]) -> str:
        """`step`, or `resonance` where no arrow makes or breaks a sigma bond; seldom `sigma`: `resonance` in spite of one."""
        tails = all(len(arrow.tail) == 1 or matrix.shared[frozenset(arrow.tail)] > 2 for arrow in arrows)
        heads = all(len(arrow.head) == 1 and arrow.head[0] in arrow.tail or frozenset(landing(arrow)) in matrix.shared for arrow in arrows)
        kept = set(push(matrix, arrows).shared) == set(matrix.shared)
        if tails and heads and kept:
            return self.random.choice(("resonance", "resonance", "step"))
        return "sigma" if not kept and self.random.random() < 0.05 else "step"

    def open_heads(self, arrows: list[Arrow]) -> list[Arrow]:
        """`1-2 -> 2-3` drawn as `1-2 -> 3`: the stated answer shows which bond is meant."""
        return [
            Arrow(arrow.electrons, arrow.tail, apart)
            if len(arrow.tail) == 2 and len(apart := tuple(node for node in arrow.head if node not in arrow.tail)) == 1
            else arrow
            for arrow in arrows
        ]

    def shuffled(self, matrix: Matrix) -> list[str]:
        """All nodes in any order."""
        return self.random.sample(list(matrix.symbol), len(matrix.symbol))

    def item(self, task: str, start: str, arrows: list[Arrow], answer: str, expect: str, made: str) -> Case:
        """The record; arrows stand in any order and in one of the spellings that the notation allows."""
        texts = [str(arrow) for arrow in self.random.sample(arrows, len(arrows))]
        between, pair = self.random.choice((("; ", "->"), ("; ", "->"), (";", "->"), ("\n", "->"), ("; ", "\u2192")))
        text = between.join(texts).replace("->", pair)
        return {"task": task, "start": start, "arrows": text, "answer": answer, "expect": expect, "made": made}


def named(matrix: Matrix) -> list[str]:
    """The drawn atoms: all nodes but undrawn hydrogens."""
    return [node for node in matrix.symbol if "h" not in node]


def delocalised(matrix: Matrix, touched: set[str], labels: dict[str, str]) -> str | None:
    """The drawing with its aromatic rings in lower case, as RDKit sees them; None where there are none or arrows touch one."""
    options = Chem.SmilesParserParams()
    options.removeHs = False
    every = {node: node for node in named(matrix)}
    mol = Chem.MolFromSmiles(write(matrix, every, frozenset(every)), options)
    rings = {str(atom.GetAtomMapNum()) for atom in mol.GetAtoms() if atom.GetIsAromatic()} if mol else set()
    if not rings or rings & touched:
        return None
    for atom in mol.GetAtoms():
        if str(atom.GetAtomMapNum()) not in labels:
            atom.SetAtomMapNum(0)
    return Chem.MolToSmiles(mol, canonical=False)


def profile(matrix: Matrix) -> list[tuple[str, int, int, tuple[int, ...]]]:
    """What a drawing is whatever its labels, up to coincidences: the sorted electrons of its atoms."""
    around = matrix.neighbours()
    return sorted((s, matrix.free[n], len(around[n]), tuple(sorted(around[n].values()))) for n, s in matrix.symbol.items())


def cases(seed: str, number: int) -> Iterator[Case]:
    """`number` cases of one seed, no question twice."""
    maker, asked = Maker(seed), set()
    while number:
        case = maker.case()
        if case is not None and (case["start"], case["arrows"]) not in asked:
            asked.add((case["start"], case["arrows"]))
            number -= 1
            yield case
