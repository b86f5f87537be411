"""The audit as a chemist would script it with RDKit (PyPI `rdkit`, BSD-3-Clause): the other side of `whole.py`.

For every row of a CSV bank: read start and answer, give every arrow its electrons, edit an RWMol, check charges and
valence shells, compare with the stated answer by labels where it has them and by canonical SMILES where not. It uses
what RDKit does in C++ wherever that is the natural way. Findings go to a CSV file.

    chemist.py bank.csv --out findings.csv --jobs 2
"""

from __future__ import annotations

import argparse
import csv
import re
import sys
import time
from collections import Counter
from itertools import islice
from multiprocessing import Pool

from rdkit import Chem, RDLogger

RDLogger.DisableLog("rdApp.*")

TABLE = Chem.GetPeriodicTable()
OUTER = [TABLE.GetNOuterElecs(number) if number else 0 for number in range(119)]
SHELL = {1: 2, 2: 2, 13: 12, 14: 12, 15: 12, 16: 12, 32: 12, 33: 12, 34: 12, 50: 12, 51: 12, 52: 12, 17: 14, 35: 14, 53: 14}
ORDER = {1: Chem.BondType.SINGLE, 2: Chem.BondType.DOUBLE, 3: Chem.BondType.TRIPLE, 4: Chem.BondType.QUADRUPLE}
ARROW = re.compile(r"\s*(\w+)(?:\s*-\s*(\w+))?\s*(->|~>|→)\s*(\w+)(?:\s*-\s*(\w+))?\s*")
Finding = tuple[str, str, str]


class Problem(Exception):
    """A finding that ends the audit of a row."""


def read(smiles: str) -> Chem.Mol:
    """The structure as it is drawn: no sanitisation, aromatic rings localised, hydrogen counts fixed."""
    mol = Chem.MolFromSmiles(smiles, sanitize=False)
    if mol is None:
        raise Problem("unreadable-structure")
    mol.UpdatePropertyCache(strict=False)
    try:
        Chem.Kekulize(mol, clearAromaticFlags=True)
    except Chem.KekulizeException as error:
        raise Problem("no-localised-form") from error
    for atom in mol.GetAtoms():
        atom.SetNumExplicitHs(atom.GetTotalNumHs())
        atom.SetNoImplicit(True)
    mol.UpdatePropertyCache(strict=False)
    return mol


def electrons(mol: Chem.Mol) -> list[int]:
    """Non-bonding electrons of every atom: valence electrons less charge less bonds."""
    return [OUTER[atom.GetAtomicNum()] - atom.GetFormalCharge() - atom.GetTotalValence() for atom in mol.GetAtoms()]


def labels(mol: Chem.Mol) -> dict[str, int]:
    """Atom index by label."""
    by_class = {str(atom.GetAtomMapNum()): atom.GetIdx() for atom in mol.GetAtoms() if atom.GetAtomMapNum()}
    return by_class or {str(index + 1): index for index in range(mol.GetNumAtoms())}


def parse(text: str) -> list[tuple[int, list[str], list[str]]]:
    """The arrows: electrons moved, tail, head."""
    arrows = []
    for part in re.split(r"[;\n]", text):
        match = ARROW.fullmatch(part)
        if match is None:
            raise Problem("unreadable-arrows")
        a, b, sign, c, d = match.groups()
        arrows.append((1 if sign == "~>" else 2, [a, b] if b else [a], [c, d] if d else [c]))
    return arrows


def push(start: Chem.Mol, text: str) -> Chem.Mol:
    """The product of all arrows at once."""
    mol = Chem.RWMol(start)
    at = labels(mol)
    free = electrons(mol)
    moved_free: Counter[int] = Counter()
    moved_bond: Counter[tuple[int, int]] = Counter()

    def index(name: str) -> int:
        """The atom of a label; `3h` draws a hydrogen of atom 3 out."""
        if name not in at:
            heavy = name.partition("h")[0]
            if heavy == name or heavy not in at or not mol.GetAtomWithIdx(at[heavy]).GetNumExplicitHs():
                raise Problem("unknown-atom")
            atom = mol.GetAtomWithIdx(at[heavy])
            atom.SetNumExplicitHs(atom.GetNumExplicitHs() - 1)
            at[name] = mol.AddAtom(Chem.Atom(1))
            mol.GetAtomWithIdx(at[name]).SetNoImplicit(True)
            mol.AddBond(at[heavy], at[name], Chem.BondType.SINGLE)
            free.append(0)
        return at[name]

    def move(place: list[int], count: int) -> None:
        if len(place) == 1:
            moved_free[place[0]] += count
        else:
            moved_bond[min(place), max(place)] += count

    for count, tail_names, head_names in parse(text):
        tail, head = [index(name) for name in tail_names], [index(name) for name in head_names]
        if not set(tail) & set(head):
            if len(tail) == len(head) == 1:
                head = tail + head
            else:
                raise Problem("detached-head")
        bond = mol.GetBondBetweenAtoms(*tail) if len(tail) == 2 else None
        if (free[tail[0]] < count) if len(tail) == 1 else bond is None:
            raise Problem("empty-tail")
        move(tail, -count)
        move(head, count)

    touched = {atom for pair in moved_bond for atom in pair} | set(moved_free)
    bonding = Counter({atom: 0 for atom in touched})
    for (a, b), count in moved_bond.items():
        if count % 2:
            raise Problem("unpaired-half-arrow")
        bond = mol.GetBondBetweenAtoms(a, b)
        order = (int(bond.GetBondTypeAsDouble()) if bond else 0) + count // 2
        if order < 0:
            raise Problem("overdrawn-tail")
        if bond:
            mol.RemoveBond(a, b)
        if order:
            mol.AddBond(a, b, ORDER[order])
        bonding[a] += count // 2
        bonding[b] += count // 2
    for index_ in touched:
        atom = mol.GetAtomWithIdx(index_)
        if free[index_] + moved_free[index_] < 0:
            raise Problem("overdrawn-tail")
        atom.SetFormalCharge(atom.GetFormalCharge() - moved_free[index_] - bonding[index_])
    mol.UpdatePropertyCache(strict=False)
    return mol


def check_shells(mol: Chem.Mol) -> None:
    """No atom with too many or with impossible electrons."""
    for atom in mol.GetAtoms():
        number, bonds = atom.GetAtomicNum(), atom.GetTotalValence()
        free = OUTER[number] - atom.GetFormalCharge() - bonds
        if free < 0:
            raise Problem("impossible-electrons")
        if 2 * bonds + free > SHELL.get(number, 8):
            raise Problem("hypervalent-atom")


def by_labels(mol: Chem.Mol) -> tuple[dict[int, tuple[int, int, int]], dict[tuple[int, int], Chem.BondType]]:
    """What a labelled drawing says, atom by atom and bond by bond. Hydrogens without a label are counted at their atom."""
    hydrogens: Counter[int] = Counter()
    for atom in mol.GetAtoms():
        if atom.GetAtomicNum() == 1 and not atom.GetAtomMapNum() and atom.GetDegree() == 1:
            hydrogens[atom.GetNeighbors()[0].GetIdx()] += 1
    atoms = {
        atom.GetAtomMapNum(): (atom.GetAtomicNum(), atom.GetFormalCharge(), atom.GetNumExplicitHs() + hydrogens[atom.GetIdx()])
        for atom in mol.GetAtoms()
        if atom.GetAtomMapNum()
    }
    bonds = {}
    for bond in mol.GetBonds():
        a, b = bond.GetBeginAtom().GetAtomMapNum(), bond.GetEndAtom().GetAtomMapNum()
        if a and b:
            bonds[min(a, b), max(a, b)] = bond.GetBondType()
    return atoms, bonds


def species(mol: Chem.Mol) -> Counter[str]:
    """The canonical SMILES of each species without labels, hydrogens counted and not drawn."""
    bare = Chem.RWMol(mol)
    for atom in bare.GetAtoms():
        atom.SetAtomMapNum(0)
    drawn = [atom.GetIdx() for atom in bare.GetAtoms() if atom.GetAtomicNum() == 1 and atom.GetDegree() == 1]
    for hydrogen in drawn:
        (heavy,) = bare.GetAtomWithIdx(hydrogen).GetNeighbors()
        if heavy.GetAtomicNum() > 1:
            heavy.SetNumExplicitHs(heavy.GetNumExplicitHs() + 1)
            bare.RemoveBond(hydrogen, heavy.GetIdx())
            bare.GetAtomWithIdx(hydrogen).SetAtomicNum(0)
    bare.BeginBatchEdit()
    for hydrogen in drawn:
        if bare.GetAtomWithIdx(hydrogen).GetAtomicNum() == 0:
            bare.RemoveAtom(hydrogen)
    bare.CommitBatchEdit()
    bare.UpdatePropertyCache(strict=False)
    Chem.FastFindRings(bare)
    return Counter(Chem.MolToSmiles(bare).split("."))


def audit(row: dict[str, str]) -> Finding | None:
    """The finding of one row, if any."""
    try:
        start, answer = read(row["start"]), read(row["answer"])
        check_shells(start)
        check_shells(answer)
        product = push(start, row["arrows"])
        check_shells(product)
    except Problem as problem:
        return row["id"], str(problem), ""
    if any(atom.GetAtomMapNum() for atom in answer.GetAtoms()):
        (atoms, bonds), (stated_atoms, stated_bonds) = by_labels(product), by_labels(answer)
        if atoms == stated_atoms and bonds == stated_bonds:
            return None
        differing = sorted(label for label in atoms if atoms[label] != stated_atoms.get(label))
        return row["id"], "mismatched-product", " ".join(map(str, differing))
    computed, stated = species(product), species(answer)
    if computed == stated:
        return None
    if not stated - computed:
        return row["id"], "omitted-species", ".".join((computed - stated).elements())
    return row["id"], "mismatched-product", ".".join(computed.elements())


def main() -> int:
    """Audits the bank and prints the rate."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("bank")
    parser.add_argument("--out", default="findings.csv")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--limit", type=int, help="audit only so many rows")
    asked = parser.parse_args()
    began = time.perf_counter()
    with open(asked.bank, encoding="utf-8", newline="") as bank, open(asked.out, "w", encoding="utf-8", newline="") as out:
        rows = islice(csv.DictReader(bank), asked.limit)
        writer = csv.writer(out)
        writer.writerow(("item", "finding", "detail"))
        count = faulty = 0
        pool = Pool(asked.jobs) if asked.jobs > 1 else None
        for finding in pool.imap(audit, rows, chunksize=500) if pool else map(audit, rows):
            count += 1
            if finding:
                faulty += finding[1] != "omitted-species"
                writer.writerow(finding)
        if pool:
            pool.close()
            pool.join()
    seconds = time.perf_counter() - began
    print(f"items {count}, faulty {faulty}, {count / seconds:.0f} items/s", file=sys.stderr)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
