"""Counts what a bank asks with RDKit and holds it against `survey.json`: an independent reading of the same tables.

    python3 tests/witness/survey.py PROGRAM BANK.csv|BANK.jsonl ...

Every item whose start RDKit reads and whose arrows are plain (`1-2 -> 2`, labels or positions, `3h`) is counted here by RDKit's own bonds.
Items with starts that only one of the two reads are listed; sequences are left to the program, since the starts of their later steps follow.
"""

from __future__ import annotations

import csv
import json
import re
import subprocess
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any, Iterator

from rdkit import Chem, RDLogger

RDLogger.DisableLog("rdApp.*")
PLACE = re.compile(r"(\d+)(h\d*)?(?:\s*-\s*(\d+)(h\d*)?)?")


def items(path: Path) -> Iterator[dict[str, Any]]:
    if path.suffix == ".csv":
        with path.open(newline="", encoding="utf-8-sig") as file:
            yield from csv.DictReader(file)
    else:
        with path.open() as file:
            for line in file:
                try:
                    row = json.loads(line)
                    if isinstance(row, dict):
                        yield row
                except json.JSONDecodeError:
                    continue


def molecule(text: str) -> Chem.Mol | None:
    params = Chem.SmilesParserParams()
    params.sanitize, params.removeHs = False, False
    found = Chem.MolFromSmiles(text, params)
    if found is not None:
        found.UpdatePropertyCache(strict=False)
        try:
            Chem.Kekulize(found, clearAromaticFlags=False)
        except Chem.KekulizeException:
            return None
    return found


def places(text: str) -> list[tuple[str, str]] | None:
    """The atoms of a tail or head: one or two."""
    found = PLACE.fullmatch(text.strip())
    if not found:
        return None
    own = [(found[1], found[2] or "")]
    return own + ([(found[3], found[4] or "")] if found[3] else [])


def moves(mol: Chem.Mol, text: str) -> list[str] | None:
    """Tail and head of each arrow, by RDKit's bonds."""
    labels = {str(atom.GetAtomMapNum()): atom.GetIdx() for atom in mol.GetAtoms() if atom.GetAtomMapNum()}
    if not labels:
        labels = {str(atom.GetIdx() + 1): atom.GetIdx() for atom in mol.GetAtoms()}

    def order(ends: list[tuple[str, str]]) -> float:
        (a, ah), (b, bh) = ends
        if ah or bh:
            # A hydrogen that is not drawn is bonded to its atom and to nothing else.
            return 1.0 if a == b and bool(ah) != bool(bh) else 0.0
        bond = mol.GetBondBetweenAtoms(labels[a], labels[b])
        return bond.GetBondTypeAsDouble() if bond is not None else 0.0

    found = []
    for arrow in re.split(r"[;\n]", text):
        if not arrow.strip():
            continue
        half = "~>" in arrow
        parts = re.split(r"~>|->|→", arrow)
        if len(parts) != 2:
            return None
        tail, head = places(parts[0]), places(parts[1])
        if tail is None or head is None or any(own not in labels for own, _ in tail + head):
            return None
        if len(tail) == 1 and len(head) == 1:
            # A head on another atom than a lone pair's is a bond between the two.
            head = tail + head
        elif len(tail) == 2 and len(head) == 1 and head[0] not in tail:
            return None
        source = "atom" if len(tail) == 1 else "pi" if order(tail) > 1 else "sigma"
        names = {
            (False, "atom"): "lone pair",
            (False, "pi"): "pi bond",
            (False, "sigma"): "sigma bond",
            (True, "atom"): "one electron of an atom",
            (True, "pi"): "one electron of a pi bond",
            (True, "sigma"): "one electron of a sigma bond",
        }
        target = "atom" if len(head) == 1 else "pi bond" if order(head) > 0 else "new sigma bond"
        found.append(f"{names[half, source]} to {target}")
    return found


def count(rows: list[dict[str, Any]]) -> dict[str, Counter[str]]:
    counts: dict[str, Counter[str]] = {name: Counter() for name in ("task", "species", "atoms", "net-charge", "element", "charged-atom", "arrows", "move", "mark")}
    for row in rows:
        counts["task"][(row.get("task") or "step").strip().lower()] += 1
        mol = molecule(row["start"])
        assert mol is not None
        counts["species"][str(len(Chem.GetMolFrags(mol)))] += 1
        counts["atoms"][str(sum(atom.GetAtomicNum() != 1 for atom in mol.GetAtoms()))] += 1
        charge = sum(atom.GetFormalCharge() for atom in mol.GetAtoms())
        counts["net-charge"]["0" if charge == 0 else f"{abs(charge)}{'-' if charge < 0 else '+'}"] += 1
        elements = {atom.GetSymbol() for atom in mol.GetAtoms()}
        if any(atom.GetTotalNumHs() for atom in mol.GetAtoms()):
            elements.add("H")
        counts["element"].update(elements)
        charged = {(atom.GetSymbol(), atom.GetFormalCharge() > 0) for atom in mol.GetAtoms() if atom.GetFormalCharge()}
        counts["charged-atom"].update(f"{symbol}{'+' if sign else '-'}" for symbol, sign in charged)
        Chem.FastFindRings(mol)
        if mol.GetRingInfo().NumRings():
            counts["mark"]["rings"] += 1
        found = moves(mol, arrows(row))
        assert found is not None
        counts["arrows"][str(len(found))] += 1
        counts["move"].update(found)
    return counts


def centres(row: dict[str, Any]) -> tuple[str, str]:
    """The reaction centre with its neighbours, and with its surroundings out to two bonds, as canonical SMILES of RDKit.

    Bonds become atoms of their own, so that their orders before and after the arrows can be written as isotopes.
    """
    mol = Chem.RWMol(molecule(row["start"]))
    labels = {str(atom.GetAtomMapNum()): atom.GetIdx() for atom in mol.GetAtoms() if atom.GetAtomMapNum()}
    labels = labels or {str(atom.GetIdx() + 1): atom.GetIdx() for atom in mol.GetAtoms()}
    hydrogens: dict[tuple[str, str], int] = {}

    def atom(own: tuple[str, str]) -> int:
        if not own[1]:
            return labels[own[0]]
        if own not in hydrogens:
            hydrogens[own] = mol.AddAtom(Chem.Atom(1))
            mol.AddBond(labels[own[0]], hydrogens[own], Chem.BondType.SINGLE)
        return hydrogens[own]

    gain: Counter[int] = Counter()
    change: Counter[tuple[int, int]] = Counter()
    touched: list[int] = []
    for arrow in re.split(r"[;\n]", arrows(row)):
        if not arrow.strip():
            continue
        electrons = 1 if "~>" in arrow else 2
        parts = [places(part) for part in re.split(r"~>|->|\u2192", arrow)]
        if len(parts[0]) == 1 and len(parts[1]) == 1:
            parts[1] = parts[0] + parts[1]
        for sign, place in ((-1, parts[0]), (1, parts[1])):
            ends = tuple(sorted(atom(own) for own in place))
            touched += [own for own in ends if own not in touched]
            if len(ends) == 1:
                gain[ends[0]] += sign * electrons
            else:
                change[ends] += sign * electrons
    distance = {own: 0 for own in touched}
    found = []
    for step in (1, 2):
        for own in list(distance):
            for next_ in mol.GetAtomWithIdx(own).GetNeighbors():
                if next_.GetAtomicNum() != 1:
                    distance.setdefault(next_.GetIdx(), step)
        graph, at = Chem.RWMol(), {}
        for own, far in distance.items():
            drawn = mol.GetAtomWithIdx(own)
            node = Chem.Atom(drawn.GetAtomicNum())
            node.SetIsotope(100 * far + gain[own] + 10)
            node.SetFormalCharge(drawn.GetFormalCharge())
            node.SetNoImplicit(True)
            at[own] = graph.AddAtom(node)
        orders = {}
        for bond in mol.GetBonds():
            ends = tuple(sorted((bond.GetBeginAtomIdx(), bond.GetEndAtomIdx())))
            if all(own in at for own in ends):
                orders[ends] = (int(bond.GetBondTypeAsDouble()), int(bond.GetBondTypeAsDouble()) + change[ends] // 2)
        for ends, more in change.items():
            if ends not in orders and more:
                orders[ends] = (0, more // 2)
        for (a, b), (before, after) in orders.items():
            node = Chem.Atom(0)
            node.SetIsotope(10 * before + after + 1)
            node.SetNoImplicit(True)
            middle = graph.AddAtom(node)
            graph.AddBond(at[a], middle, Chem.BondType.SINGLE)
            graph.AddBond(middle, at[b], Chem.BondType.SINGLE)
        found.append(Chem.MolToSmiles(graph.GetMol()))
    return found[0], found[1]


def families(rows: list[dict[str, Any]]) -> tuple[Counter[tuple[int, int, int]], int]:
    """Families by their steps, surroundings and near repeats; and how many there are."""
    groups: dict[str, Counter[str]] = {}
    for row in rows:
        family, surroundings = centres(row)
        groups.setdefault(family, Counter())[surroundings] += 1
    sizes: Counter[tuple[int, int, int]] = Counter()
    for own in groups.values():
        sizes[sum(own.values()), len(own), sum(many for many in own.values() if many > 1)] += 1
    return sizes, len(groups)


def arrows(row: dict[str, Any]) -> str:
    own = row.get("arrows") or ""
    return "; ".join(own) if isinstance(own, list) else own


def is_counted(row: dict[str, Any]) -> bool:
    if row.get("steps") or row.get("step") or (row.get("task") or "").strip() == "contributors" or not row.get("start"):
        return False
    mol = molecule(row["start"])
    return mol is not None and bool(arrows(row).strip()) and moves(mol, arrows(row)) is not None


def main() -> int:
    program, paths = sys.argv[1], [Path(own) for own in sys.argv[2:]]
    failures, compared = [], 0
    for path in paths:
        rows = [row for row in items(path) if is_counted(row)]
        with tempfile.TemporaryDirectory() as scratch:
            bank = Path(scratch) / "bank.jsonl"
            lines = []
            # Items whose arrows the program cannot push are none of its counts: it says how many, and they are found one by one.
            for row in rows:
                own = {key: row[key] for key in ("task", "start", "answer") if row.get(key)}
                lines.append(json.dumps({**own, "arrows": arrows(row)}))
            bank.write_text("\n".join(lines) + "\n")
            told = survey(program, bank, scratch)
            if told["totals"]["with-steps-not-counted"] or told["totals"]["not-counted"]:
                kept = [at for at, line in enumerate(lines) if pushes(program, line, scratch)]
                rows = [rows[at] for at in kept]
                bank.write_text("\n".join(lines[at] for at in kept) + "\n")
                told = survey(program, bank, scratch)
        own = count(rows)
        for section, counter in own.items():
            theirs = {value["value"]: value["count"] for value in told["sections"][section]}
            if section == "mark":
                theirs = {name: many for name, many in theirs.items() if name in ("rings",)}
            compared += len(counter)
            if dict(counter) != theirs:
                failures.append(f"{path.name} {section}: RDKit {dict(sorted(counter.items()))}, survey {dict(sorted(theirs.items()))}")
        # Which double bonds a ring has that is drawn delocalised is the tool's choice: such items are left out here.
        plain = [row for row in rows if not any(atom.GetIsAromatic() for atom in molecule(row["start"]).GetAtoms())]
        with tempfile.TemporaryDirectory() as scratch:
            bank = Path(scratch) / "bank.jsonl"
            lines = [json.dumps({**{key: row[key] for key in ("task", "start", "answer") if row.get(key)}, "arrows": arrows(row)}) for row in plain]
            bank.write_text("\n".join(lines) + "\n")
            told = survey(program, bank, scratch)["families"]
        sizes = Counter((own["steps"], own["surroundings"], own["near-repeats"]) for own in told)
        ours, many = families(plain)
        compared += many
        if sizes != ours:
            failures.append(f"{path.name} families (steps, surroundings, near repeats): RDKit {ours}, survey {sizes}")
        print(f"{path.name}: {len(rows)} items, {many} families of {len(plain)} items without delocalised rings")
    print(f"{compared} counts compared, {len(failures)} sections differ")
    print("\n".join(failures))
    return 1 if failures else 0


def survey(program: str, bank: Path, scratch: str) -> dict[str, Any]:
    out = Path(scratch) / "survey"
    done = subprocess.run([program, "survey", str(bank), "--out", str(out), "--quiet"], check=False, capture_output=True, text=True)
    assert done.returncode in (0, 1), done.stderr
    found: dict[str, Any] = json.loads((out / "survey.json").read_text())
    return found


def pushes(program: str, line: str, scratch: str) -> bool:
    bank = Path(scratch) / "one.jsonl"
    bank.write_text(line + "\n")
    totals = survey(program, bank, scratch)["totals"]
    return not totals["with-steps-not-counted"] and not totals["not-counted"]


if __name__ == "__main__":
    sys.exit(main())
