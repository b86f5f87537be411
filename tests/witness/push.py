"""An independent implementation of the electron bookkeeping of curved arrows, as a bond-electron matrix.

Source of the method: Dugundji, Ugi, "An algebraic model of constitutional chemistry", Top. Curr. Chem. 1973, 39, 19.
Structures are read by RDKit (PyPI `rdkit`, BSD-3-Clause) with sanitisation off; valence electrons are RDKit's. Nothing
here is shared with the Rust program: the two meet only in `differential.py`.

A node is an atom by label, or one undrawn hydrogen of it: `7`, `7h`, `7h2`. The diagonal of the matrix counts
non-bonding electrons, the rest of it counts electrons between two nodes, two for each order of a bond.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field

from rdkit import Chem

TABLE = Chem.GetPeriodicTable()
# Electrons that a valence shell holds as conventionally drawn; the rest of the main group up to neon holds 8.
SHELL = {"H": 2, "He": 2, **dict.fromkeys("Al Si Ge Sn P As Sb S Se Te".split(), 12), **dict.fromkeys("Cl Br I".split(), 14)}
BOND = {2: "", 4: "=", 6: "#", 8: "$"}
PLACE = re.compile(r"\s*(\d+(?:h\d*)?)\s*(?:-\s*(\d+(?:h\d*)?)\s*)?")

Pair = frozenset[str]


@dataclass
class Matrix:
    """Electrons of one drawing."""

    symbol: dict[str, str] = field(default_factory=dict)
    free: dict[str, int] = field(default_factory=dict)
    shared: dict[Pair, int] = field(default_factory=dict)

    def add(self, node: str, symbol: str, free: int) -> None:
        """A new atom with its non-bonding electrons."""
        self.symbol[node] = symbol
        self.free[node] = free

    def neighbours(self) -> dict[str, dict[str, int]]:
        """For every node its neighbours and the electrons between."""
        around: dict[str, dict[str, int]] = {node: {} for node in self.symbol}
        for (a, b), electrons in ((tuple(pair), electrons) for pair, electrons in self.shared.items()):
            around[a][b] = around[b][a] = electrons
        return around

    def bonding(self) -> Counter[str]:
        """For every node the electrons in all its bonds."""
        total: Counter[str] = Counter()
        for pair, electrons in self.shared.items():
            for node in pair:
                total[node] += electrons
        return total

    def charges(self) -> dict[str, int]:
        """Formal charge: valence electrons less non-bonding electrons less half the bonding ones (Gold Book 08169)."""
        bonding = self.bonding()
        return {node: outer(symbol) - self.free[node] - bonding[node] // 2 for node, symbol in self.symbol.items()}

    def over_full(self) -> list[str]:
        """Nodes whose shell holds more than it can."""
        bonding = self.bonding()
        return [node for node, symbol in self.symbol.items() if self.free[node] + bonding[node] > SHELL.get(symbol, 8)]


def outer(symbol: str) -> int:
    """Valence electrons of the neutral atom."""
    return TABLE.GetNOuterElecs(symbol)


def canonical(name: str) -> str:
    """`7h1` and `7h` are one hydrogen."""
    return name[:-1] if name.endswith("h1") else name


def read(smiles: str) -> Matrix:
    """The matrix of a localised SMILES; labels are the atom classes or, where there are none, the positions."""
    mol = Chem.MolFromSmiles(smiles, sanitize=False)
    mol.UpdatePropertyCache(strict=False)
    by_class = any(atom.GetAtomMapNum() for atom in mol.GetAtoms())
    # An atom without a class beside others that have one cannot be named by an arrow; `_` keeps it apart.
    names = [str(atom.GetAtomMapNum() or f"_{atom.GetIdx()}") if by_class else str(atom.GetIdx() + 1) for atom in mol.GetAtoms()]
    matrix = Matrix()
    for atom, name in zip(mol.GetAtoms(), names, strict=True):
        bonds = int(sum(bond.GetBondTypeAsDouble() for bond in atom.GetBonds())) + atom.GetTotalNumHs()
        matrix.add(name, atom.GetSymbol(), outer(atom.GetSymbol()) - atom.GetFormalCharge() - bonds)
        for number in range(1, atom.GetTotalNumHs() + 1):
            hydrogen = canonical(f"{name}h{number}")
            matrix.add(hydrogen, "H", 0)
            matrix.shared[frozenset((name, hydrogen))] = 2
    for bond in mol.GetBonds():
        pair = frozenset((names[bond.GetBeginAtomIdx()], names[bond.GetEndAtomIdx()]))
        matrix.shared[pair] = 2 * int(bond.GetBondTypeAsDouble())
    return matrix


@dataclass(frozen=True)
class Arrow:
    """Electrons (2 or 1) from a place to a place; a place is one node or two."""

    electrons: int
    tail: tuple[str, ...]
    head: tuple[str, ...]

    def __str__(self) -> str:
        return f"{'-'.join(self.tail)} {'->' if self.electrons == 2 else '~>'} {'-'.join(self.head)}"


def read_arrows(text: str) -> list[Arrow]:
    """The arrows of one field."""
    arrows = []
    for part in re.split(r"[;\n]", text):
        tail, sign, head = re.split(r"(->|~>|→)", part)
        arrows.append(Arrow(1 if sign == "~>" else 2, place(tail), place(head)))
    return arrows


def place(text: str) -> tuple[str, ...]:
    """One place of an arrow."""
    match = PLACE.fullmatch(text)
    if match is None:
        raise ValueError(f"no place: {text!r}")
    return tuple(canonical(name) for name in match.groups() if name)


class Fault(Exception):
    """The arrows cannot be applied; the text is the name of the finding."""


def push(start: Matrix, arrows: list[Arrow]) -> Matrix:
    """The sum of all arrows, or the fault that stops it."""
    taken: Counter[tuple[str, ...]] = Counter()
    product = Matrix(dict(start.symbol), dict(start.free), dict(start.shared))
    for arrow in arrows:
        head = landing(arrow)
        if available(start, arrow.tail) == 0:
            raise Fault("empty-tail")
        taken[tuple(sorted(arrow.tail))] += arrow.electrons
        put(product, arrow.tail, -arrow.electrons)
        put(product, head, arrow.electrons)
    if any(count > available(start, tail) for tail, count in taken.items()):
        raise Fault("overdrawn-tail")
    if any(electrons % 2 for electrons in product.shared.values()):
        raise Fault("unpaired-half-arrow")
    product.shared = {pair: electrons for pair, electrons in product.shared.items() if electrons}
    return product


def landing(arrow: Arrow) -> tuple[str, ...]:
    """Where the electrons come to sit: a head on another atom than the tail's means the bond to it."""
    if not set(arrow.tail) & set(arrow.head):
        if len(arrow.tail) == len(arrow.head) == 1:
            return (*arrow.tail, *arrow.head)
        raise Fault("detached-head")
    return arrow.head


def available(matrix: Matrix, tail: tuple[str, ...]) -> int:
    """Electrons that the drawing has at a place."""
    return matrix.free[tail[0]] if len(tail) == 1 else matrix.shared.get(frozenset(tail), 0)


def put(matrix: Matrix, at: tuple[str, ...], electrons: int) -> None:
    """Adds electrons to a place."""
    if len(at) == 1:
        matrix.free[at[0]] += electrons
    else:
        pair = frozenset(at)
        matrix.shared[pair] = matrix.shared.get(pair, 0) + electrons


def write(matrix: Matrix, labels: dict[str, str], drawn: frozenset[str] = frozenset(), first: list[str] | None = None) -> str:
    """A localised SMILES in which every atom is bracketed; the order of `first` is the order of the atoms.

    `labels` gives the atom class of a node, if any. Hydrogens of one ordinary bond are counted at their neighbour
    unless they are in `drawn`.
    """
    around = matrix.neighbours()
    folded = {node for node in matrix.symbol if node not in drawn and folds(matrix, around, node)}
    charges = matrix.charges()

    def atom(node: str) -> str:
        hydrogens = sum(other in folded for other in around[node])
        count = f"H{hydrogens if hydrogens > 1 else ''}" if hydrogens else ""
        charge = charges[node]
        sign = f"{charge:+d}".replace("1", "") if abs(charge) == 1 else f"{charge:+d}" if charge else ""
        label = f":{labels[node]}" if node in labels else ""
        return f"[{matrix.symbol[node]}{count}{sign}{label}]"

    kept = [node for node in first or list(matrix.symbol) if node not in folded]
    return ".".join(spell(kept, {node: {o: e for o, e in around[node].items() if o not in folded} for node in kept}, atom))


def folds(matrix: Matrix, around: dict[str, dict[str, int]], node: str) -> bool:
    """Whether a node is a hydrogen that can stand undrawn at its one heavy neighbour."""
    if "h" not in node or matrix.free[node] or len(around[node]) != 1:
        return False
    ((other, electrons),) = around[node].items()
    return electrons == 2 and matrix.symbol[other] != "H"


def spell(nodes: list[str], around: dict[str, dict[str, int]], atom) -> list[str]:  # type: ignore[no-untyped-def]
    """The species, each as a SMILES: one walk that finds the ring bonds, one that writes."""
    rank = {node: at for at, node in enumerate(nodes)}
    seen: set[str] = set()
    rings: dict[Pair, int] = {}
    species = []

    def walk(root: str) -> dict[str, list[str]]:
        below: dict[str, list[str]] = {root: []}
        stack: list[tuple[str, str | None]] = [(root, None)]
        while stack:
            node, above = stack.pop()
            if node in seen:
                continue
            seen.add(node)
            if above is not None:
                below[above].append(node)
                below[node] = []
            for other in sorted(around[node], key=rank.__getitem__, reverse=True):
                if other not in seen:
                    stack.append((other, node))
        tree = {frozenset((node, child)) for node, children in below.items() for child in children}
        for node in below:
            for other in around[node]:
                if frozenset((node, other)) not in tree and frozenset((node, other)) not in rings:
                    rings[frozenset((node, other))] = len(rings) + 1
        return below

    def text(root: str, below: dict[str, list[str]]) -> str:
        out: list[str] = []
        todo: list[tuple[str, str | None] | str] = [(root, None)]
        while todo:
            step = todo.pop()
            if isinstance(step, str):
                out.append(step)
                continue
            node, above = step
            out.append((BOND[around[node][above]] if above is not None else "") + atom(node))
            for other in sorted(around[node], key=rank.__getitem__):
                number = rings.get(frozenset((node, other)))
                if number is not None:
                    out.append(f"{BOND[around[node][other]]}{number if number < 10 else f'%{number:02d}'}")
            # The last neighbour goes on without parentheses; the stack holds the others above it.
            todo.extend((last, node) for last in below[node][-1:])
            for branch in reversed(below[node][:-1]):
                todo.extend((")", (branch, node), "("))
        return "".join(out)

    for node in nodes:
        if node not in seen:
            species.append(text(node, walk(node)))
    return species
