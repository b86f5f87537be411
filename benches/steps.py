#!/usr/bin/env python3
"""Mistakes of authors, sown into published steps: are they found, named and mended?

    python3 benches/steps.py PROGRAM STEPS.jsonl [--only missing,changed,answers,further,infer] [--seed N]

STEPS.jsonl has items with id, start, arrows and answer, every atom labelled and every item right. For each kind of mistake the
script sows it with a fixed seed, audits the bank and prints how many were found, how many got the slip that was sown, and how many
proposals are what stood there before. `infer` is asked for the arrows of every step, with the labels of the answer and without.
Needs Python and RDKit (structures are edited there, so that the program under test has no hand in its own examination).
"""

from __future__ import annotations

import argparse
import json
import random
import re
import subprocess
import tempfile
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from pathlib import Path

from rdkit import Chem, RDLogger

RDLogger.DisableLog("rdApp.*")
Item = dict[str, str]


def molecule(smiles: str) -> Chem.RWMol:
    """The drawing as it stands: no hydrogen removed, nothing perceived."""
    how = Chem.SmilesParserParams()
    how.removeHs, how.sanitize = False, False
    mol = Chem.MolFromSmiles(smiles, how)
    if mol is None:
        raise ValueError(smiles)
    return Chem.RWMol(mol)


def written(mol: Chem.RWMol) -> str:
    return Chem.MolToSmiles(mol, canonical=False, allHsExplicit=True)


def unlabelled(mol: Chem.RWMol) -> str:
    bare = Chem.RWMol(mol)
    for atom in bare.GetAtoms():
        atom.SetAtomMapNum(0)
    return written(bare)


def arrows_of(item: Item) -> list[str]:
    return [arrow.strip() for arrow in item["arrows"].split(";")]


def as_set(arrows: str, name: Callable[[str], object] = str) -> Counter:
    def place(text: str) -> tuple:
        return tuple(sorted(str(name(label)) for label in text.strip().split("-")))

    found: Counter = Counter()
    for arrow in filter(None, (one.strip() for one in arrows.split(";"))):
        tail, head = re.split(r"->|~>", arrow)
        found[place(tail), "->" in arrow, place(head)] += 1
    return found


# Mistakes in the arrows: the answer stays right.


def left_out(count: int) -> Callable[[Item, random.Random], Item | None]:
    def sow(item: Item, rng: random.Random) -> Item | None:
        arrows = arrows_of(item)
        if len(arrows) <= count:
            return None
        gone = set(rng.sample(range(len(arrows)), count))
        return item | {"arrows": "; ".join(arrow for at, arrow in enumerate(arrows) if at not in gone)}

    return sow


def changed(item: Item, rng: random.Random) -> Item | None:
    arrows = arrows_of(item)
    labels = re.findall(r":(\d+)\]", item["start"])
    at = rng.randrange(len(arrows))
    tail, head = (part.strip() for part in arrows[at].split("->"))
    kind = rng.choice(["label", "head", "direction", "one more"])
    if kind == "label":
        parts = re.findall(r"\d+|\D+", f"{tail} -> {head}")
        where = rng.choice([at for at, part in enumerate(parts) if part.isdigit()])
        parts[where] = rng.choice(labels)
        arrows[at] = "".join(parts)
    elif kind == "head" and "-" in head:
        arrows[at] = f"{tail} -> {rng.choice(head.split('-'))}"
    elif kind == "direction":
        arrows[at] = f"{head} -> {tail}"
    elif kind == "one more":
        mol = molecule(item["start"])
        if not mol.GetNumBonds():
            return None
        bond = rng.choice(list(mol.GetBonds()))
        a, b = bond.GetBeginAtom().GetAtomMapNum(), bond.GetEndAtom().GetAtomMapNum()
        arrows.insert(rng.randrange(len(arrows) + 1), f"{a}-{b} -> {rng.choice([a, b])}")
    if sums(arrows) & sums(arrows_of(item)):
        # Read as they were before.
        return None
    arrows = "; ".join(arrows)
    return None if as_set(arrows) == as_set(item["arrows"]) or re.search(r"\b(\d+)-\1\b", arrows) else item | {"arrows": arrows, "kind": kind}


# Mistakes in the answer: the arrows stay right.


def answer_fault(item: Item, rng: random.Random) -> Item | None:
    mol = molecule(item["answer"])
    atoms = [atom for atom in mol.GetAtoms() if atom.GetAtomicNum() > 1]
    kind = rng.choice(["charge", "hydrogen", "bond", "element", "atom", "start"])
    atom = rng.choice(atoms)
    if kind == "charge":
        atom.SetFormalCharge(atom.GetFormalCharge() + rng.choice([1, -1]))
    elif kind == "hydrogen":
        count = atom.GetNumExplicitHs()
        atom.SetNumExplicitHs(count - 1 if count and rng.random() < 0.5 else count + 1)
    elif kind == "bond":
        singles = [b for b in mol.GetBonds() if b.GetBondType() == Chem.BondType.SINGLE and all(e.GetAtomicNum() > 1 and e.GetNumExplicitHs() for e in (b.GetBeginAtom(), b.GetEndAtom()))]
        if not singles:
            return None
        bond = rng.choice(singles)
        bond.SetBondType(Chem.BondType.DOUBLE)
        for end in (bond.GetBeginAtom(), bond.GetEndAtom()):
            end.SetNumExplicitHs(end.GetNumExplicitHs() - 1)
    elif kind == "element":
        other = {6: 7, 7: 15, 8: 16, 17: 35, 35: 53}.get(atom.GetAtomicNum())
        if other is None:
            return None
        atom.SetAtomicNum(other)
    elif kind == "atom":
        ends = [a for a in atoms if a.GetDegree() == 1 and a.GetNeighbors()[0].GetAtomicNum() > 1 and not a.GetIsAromatic()]
        if not ends:
            return None
        gone = rng.choice(ends)
        next_ = gone.GetNeighbors()[0]
        next_.SetNumExplicitHs(next_.GetNumExplicitHs() + int(mol.GetBondBetweenAtoms(gone.GetIdx(), next_.GetIdx()).GetBondTypeAsDouble()))
        mol.RemoveAtom(gone.GetIdx())
    else:
        return item | {"answer": item["start"], "kind": kind}
    return item | {"answer": written(mol), "kind": kind}


# The answer of a further step, another drawing of the answer, or less than the answer.


def hydrogens_of(atom: Chem.Atom) -> int:
    return atom.GetNumExplicitHs() + sum(1 for other in atom.GetNeighbors() if other.GetAtomicNum() == 1)


def proton_moved(item: Item, rng: random.Random) -> Item | None:
    mol = molecule(item["answer"])
    heavy = [atom for atom in mol.GetAtoms() if atom.GetAtomicNum() in (6, 7, 8, 16)]
    acids = [a for a in heavy if hydrogens_of(a) and (a.GetFormalCharge() > 0 and a.GetAtomicNum() in (7, 8, 16))]
    acids = acids or [a for a in heavy if hydrogens_of(a) and a.GetAtomicNum() in (8, 16) and a.GetFormalCharge() == 0]
    bases = [a for a in heavy if (a.GetFormalCharge() < 0 or (a.GetAtomicNum() in (7, 8) and a.GetFormalCharge() == 0 and not a.GetIsAromatic()))]
    if not acids or not bases:
        return None
    acid, base = rng.choice(acids), rng.choice(bases)
    if acid.GetIdx() == base.GetIdx():
        return None
    acid.SetFormalCharge(acid.GetFormalCharge() - 1)
    base.SetFormalCharge(base.GetFormalCharge() + 1)
    drawn = [other for other in acid.GetNeighbors() if other.GetAtomicNum() == 1]
    if acid.GetNumExplicitHs():
        acid.SetNumExplicitHs(acid.GetNumExplicitHs() - 1)
        base.SetNumExplicitHs(base.GetNumExplicitHs() + 1)
    else:
        mol.RemoveBond(acid.GetIdx(), drawn[0].GetIdx())
        mol.AddBond(base.GetIdx(), drawn[0].GetIdx(), Chem.BondType.SINGLE)
    return item | {"answer": written(mol), "kind": "proton-moved"}


def other_contributor(item: Item, rng: random.Random) -> Item | None:
    mol = molecule(item["answer"])
    found = []
    for bond in mol.GetBonds():
        if bond.GetBondType() != Chem.BondType.DOUBLE:
            continue
        for b, c in ((bond.GetBeginAtom(), bond.GetEndAtom()), (bond.GetEndAtom(), bond.GetBeginAtom())):
            for a in b.GetNeighbors():
                single = mol.GetBondBetweenAtoms(a.GetIdx(), b.GetIdx()).GetBondType() == Chem.BondType.SINGLE
                if a.GetIdx() == c.GetIdx() or not single:
                    continue
                if a.GetFormalCharge() == 1 and a.GetAtomicNum() == 6 and c.GetAtomicNum() == 6 and c.GetFormalCharge() == 0:
                    found.append((a, b, c, -1))
                if a.GetFormalCharge() == -1 and c.GetFormalCharge() in (0, 1):
                    found.append((a, b, c, 1))
                if a.GetFormalCharge() == 0 and a.GetAtomicNum() in (7, 8) and c.GetAtomicNum() in (7, 8) and c.GetFormalCharge() in (0, 1):
                    found.append((a, b, c, 1))
    if not found:
        return None
    a, b, c, more = rng.choice(found)
    a.SetFormalCharge(a.GetFormalCharge() + more)
    c.SetFormalCharge(c.GetFormalCharge() - more)
    mol.GetBondBetweenAtoms(a.GetIdx(), b.GetIdx()).SetBondType(Chem.BondType.DOUBLE)
    mol.GetBondBetweenAtoms(b.GetIdx(), c.GetIdx()).SetBondType(Chem.BondType.SINGLE)
    return item | {"answer": written(mol), "kind": "other-contributor"}


def charges_left_out(item: Item, rng: random.Random) -> Item | None:
    mol = molecule(item["answer"])
    charged = [atom for atom in mol.GetAtoms() if atom.GetFormalCharge()]
    if len(charged) < 2 or sum(atom.GetFormalCharge() for atom in charged):
        return None
    for atom in charged:
        atom.SetFormalCharge(0)
    return item | {"answer": written(mol), "kind": "charges-left-out"}


def isotope_lost(item: Item, rng: random.Random) -> Item | None:
    start, answer = molecule(item["start"]), molecule(item["answer"])
    atoms = [atom for atom in start.GetAtoms() if atom.GetAtomicNum() in (1, 6, 7, 8)]
    atom = rng.choice(atoms)
    atom.SetIsotope({1: 2, 6: 13, 7: 15, 8: 18}[atom.GetAtomicNum()])
    return item | {"start": written(start), "answer": written(answer), "kind": "isotope-lost"}


def audited(program: str, bank: list[Item]) -> dict[str, list[dict]]:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "bank.jsonl")
        fields = ("id", "task", "start", "arrows", "answer")
        path.write_text("".join(json.dumps({name: item[name] for name in fields if name in item}) + "\n" for item in bank))
        command = [program, "audit", str(path), "--out", f"{folder}/out", "--write", "csv,json", "--fail-on", "never", "--quiet"]
        subprocess.run(command, check=True, capture_output=True)
        found = defaultdict(list)
        for finding in json.loads(Path(folder, "out/audit.json").read_text())["findings"]:
            found[finding["item"]].append(finding)
        import csv

        with Path(folder, "out/corrections.csv").open() as rows:
            for row in csv.DictReader(rows):
                found[row["item"], "fix"].append(row)
        return found


def sown(items: list[Item], sow: Callable, count: int, rng: random.Random, label: bool) -> Iterator[Item]:
    done = 0
    for item in items * 3:
        if done >= count:
            return
        seed = sow(dict(item), rng)
        if seed is None:
            continue
        same = seed["answer"] != item["answer"] and drawing(seed["answer"]) in (drawing(item["answer"]), drawing(item["start"]))
        if same and seed.get("kind") != "start":
            # The product under other labels, or the start: no mistake of this kind.
            continue
        seed["right"] = item["answer"], item["arrows"]
        if not label:
            mol = molecule(seed["answer"])
            order = list(range(mol.GetNumAtoms()))
            rng.shuffle(order)
            seed["answer"] = unlabelled(Chem.RWMol(Chem.RenumberAtoms(mol, order)))
        done += 1
        yield seed | {"id": f"{item['id']}-{done}"}


def share(part: int, whole: int) -> str:
    return f"{part}/{whole} = {100 * part / max(whole, 1):.1f} %"


def report(program: str, what: str, bank: list[Item], slip: str | None, show: int) -> None:
    found = audited(program, bank)
    # An answer that cannot be read is not compared.
    bank = [item for item in bank if not any(f["finding"] == "no-localised-form" for f in found[item["id"]])]
    errors = {item["id"] for item in bank if any(f["severity"] == "error" for f in found[item["id"]])}
    count = Counter()
    grades = Counter()
    missed = []
    for item in bank:
        own = found[item["id"]]
        slips = {name for f in own for name in f["slip"].split()}
        fixes = found[item["id"], "fix"]
        count["named"] += bool(slip and slip in slips)
        keeps = [f for f in fixes if f["field"] == "arrows" and not as_set(item["arrows"]) - as_set(f["proposed"])]
        count["kept"] += bool(keeps)
        same = [f for f in fixes if f["field"] == "arrows" and as_set(f["proposed"]) == as_set(item["right"][1])]
        count["as before"] += bool(same)
        for fix in fixes:
            grades[fix["field"], fix["grade"]] += 1
        if item["id"] not in errors or (slip and slip not in slips):
            missed.append((item, slips, [f["finding"] for f in own], fixes))
    print(f"{what}: found {share(len(errors), len(bank))}", end="")
    if slip:
        print(f", named {share(count['named'], len(bank))}", end="")
    print(f", arrows kept {share(count['kept'], len(bank))}, as before {share(count['as before'], len(bank))}")
    print("   ", {f"{field} {grade}": n for (field, grade), n in sorted(grades.items())})
    for item, slips, names, fixes in missed[:show]:
        print("    -", item["start"], "|", item["arrows"], "|", item["answer"], "| was", item["right"][1], slips, names, [f["proposed"] for f in fixes][:1])


def answers_right(program: str, bank: list[Item], what: str, show: int) -> None:
    """Faults of the answer: put in, is the first proposal for the answer what the arrows give?"""
    found = audited(program, bank)
    grades, kinds, wrong = Counter(), Counter(), []
    # An answer that cannot be read is not compared.
    bank = [item for item in bank if not any(f["finding"] == "no-localised-form" for f in found[item["id"]])]
    errors = {item["id"] for item in bank if any(f["severity"] == "error" for f in found[item["id"]])}
    first = {}
    for item in bank:
        fixes = found[item["id"], "fix"]
        first[item["id"]] = next((f["proposed"] for f in fixes if f["field"] == "answer"), "C")
        grades.update(f"{f['field']} {f['grade']}" for f in fixes)
    again = audited(program, [item | {"answer": first[item["id"]]} for item in bank])
    right = 0
    for item in bank:
        # One step is sown several times: that two items ask the same is no fault of the proposal.
        others = ("repeated-question", "conflicting-answers")
        ok = not any(f["severity"] in ("error", "warning") and f["finding"] not in others for f in again[item["id"]])
        right += ok
        if not ok or item["id"] not in errors:
            kinds[item.get("kind")] += 1
            wrong.append((item, [f["finding"] for f in found[item["id"]]], [f["finding"] for f in again[item["id"]]]))
    print(f"{what}: found {share(len(errors), len(bank))}, proposals right {share(right, len(bank))}, grades {dict(grades)}, missed {dict(kinds)}")
    for item, names, then in wrong[:show]:
        print("    -", item.get("kind"), item["start"], "|", item["arrows"], "|", item["answer"], names, first[item["id"]], then)


def classes(smiles: str) -> dict[str, object]:
    """Symmetry classes of the atoms by label, refined from what is drawn. A plain hydrogen is told by what carries it, drawn or not."""
    mol = molecule(smiles)
    plain = {a.GetIdx() for a in mol.GetAtoms() if a.GetAtomicNum() == 1 and not a.GetIsotope() and not a.GetFormalCharge() and a.GetDegree() == 1}
    heavy = [a for a in mol.GetAtoms() if a.GetIdx() not in plain]
    colour = {a.GetIdx(): hash((a.GetAtomicNum(), a.GetFormalCharge(), hydrogens_of(a), a.GetIsAromatic())) for a in heavy}
    for _ in heavy:
        colour = {
            a.GetIdx(): hash(
                (
                    colour[a.GetIdx()],
                    tuple(sorted((str(b.GetBondType()), colour[b.GetOtherAtomIdx(a.GetIdx())]) for b in a.GetBonds() if b.GetOtherAtomIdx(a.GetIdx()) not in plain)),
                )
            )
            for a in heavy
        }
    found: dict[str, object] = {str(a.GetAtomMapNum()): colour[a.GetIdx()] for a in heavy}
    for at in plain:
        carrier = mol.GetAtomWithIdx(at).GetNeighbors()[0]
        found[str(mol.GetAtomWithIdx(at).GetAtomMapNum())] = f"h{colour.get(carrier.GetIdx())}"
    return found


def drawing(smiles: str) -> str:
    """A drawing whatever its labels, its order of atoms and whether its hydrogens are drawn."""
    mol = molecule(smiles)
    for atom in mol.GetAtoms():
        atom.SetAtomMapNum(0)
    for atom in sorted((a for a in mol.GetAtoms() if a.GetAtomicNum() == 1 and a.GetDegree() == 1 and not a.GetIsotope()), key=lambda a: -a.GetIdx()):
        carrier = atom.GetNeighbors()[0]
        if carrier.GetAtomicNum() > 1 and not atom.GetFormalCharge():
            carrier.SetNumExplicitHs(carrier.GetNumExplicitHs() + 1)
            mol.RemoveAtom(atom.GetIdx())
    return Chem.MolToSmiles(mol, canonical=True, allHsExplicit=True)


def sums(arrows: list[str]) -> set[frozenset]:
    """What arrows do to each place: one sum, or several where a head can be read in two ways."""

    def places(arrow: str) -> list[tuple[frozenset, frozenset]]:
        tail, head = (frozenset(part.strip().split("-")) for part in arrow.split("->"))
        if len(head) == 1 and not head <= tail:
            return [(tail, head | {end}) for end in tail]
        return [(tail, head)]

    ways: list[Counter] = [Counter()]
    for arrow in arrows:
        ways = [_moved(way, tail, head) for way in ways for tail, head in places(arrow)]
    return {frozenset((place, change) for place, change in way.items() if change) for way in ways}


def _moved(way: Counter, tail: frozenset, head: frozenset) -> Counter:
    moved = Counter(way)
    moved[tail] -= 1
    moved[head] += 1
    return moved


def inferred(program: str, items: list[Item], label: bool, rng: random.Random, show: int) -> None:
    kinds, first, any_, wrong = Counter(), 0, 0, []
    for item in items:
        answer = item["answer"]
        if not label:
            mol = molecule(answer)
            order = list(range(mol.GetNumAtoms()))
            rng.shuffle(order)
            answer = unlabelled(Chem.RWMol(Chem.RenumberAtoms(mol, order)))
        run = subprocess.run([program, "infer", item["start"], answer], capture_output=True, text=True)
        ways = [line for line in run.stdout.splitlines() if "->" in line or "~>" in line]
        same = classes(item["start"])

        def name(atom: str) -> object:
            carrier = re.match(r"(\d+)h\d*$", atom)
            return f"h{same.get(carrier[1])}" if carrier else same.get(atom, atom)

        wanted = as_set(item["arrows"], name)
        hits = [as_set(way, name) == wanted for way in ways]
        first += bool(hits and hits[0])
        any_ += any(hits)
        if not (hits and hits[0]):
            few = sum(as_set(ways[0]).values()) if ways else 0
            of = sum(wanted.values())
            kind = "none" if not ways else "fewer arrows" if few < of else "more arrows" if few > of else "among the others" if any(hits) else "other arrows"
            kinds[kind] += 1
            wrong.append((kind, item, answer, ways[:2], run.stderr.strip()))
    print(f"infer, {'labelled' if label else 'unlabelled'}: first {share(first, len(items))}, among those given {share(any_, len(items))}, else {dict(kinds)}")
    for kind, item, answer, ways, why in wrong[:show]:
        print("    -", kind, "|", item["start"], "|", answer, "| was", item["arrows"], "| is", ways, why)


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    reader.add_argument("program")
    reader.add_argument("steps", type=Path)
    reader.add_argument("--only", default="missing,changed,answers,further,infer")
    reader.add_argument("--seed", type=int, default=20261130)
    reader.add_argument("--show", type=int, default=0, help="examples of what was missed")
    reader.add_argument("--count", type=int, default=400)
    own = reader.parse_args()
    items = [json.loads(line) for line in own.steps.read_text().splitlines() if line.strip()]
    # What is not sound as it stands is no seedbed.
    found = audited(own.program, items)
    items = [item for item in items if not found[item["id"]]]
    print(f"{len(items)} sound steps")
    random.Random(own.seed).shuffle(items)
    only = set(own.only.split(","))
    for label in (True, False):
        how = "labelled" if label else "unlabelled"
        rng = random.Random(own.seed)
        bank = lambda sow, count: list(sown(items, sow, count, rng, label))  # noqa: E731
        if "missing" in only:
            report(own.program, f"one arrow left out, {how}", bank(left_out(1), own.count), "arrow-missing", own.show)
            report(own.program, f"two arrows left out, {how}", bank(left_out(2), own.count), "arrow-missing", own.show)
        if "changed" in only:
            report(own.program, f"one arrow changed, {how}", bank(changed, 600), None, own.show)
        if "answers" in only:
            answers_right(own.program, bank(answer_fault, 600), f"one fault in the answer, {how}", own.show)
        if "further" in only:
            for slip, sow in (
                ("proton-moved", proton_moved),
                ("other-contributor", other_contributor),
                ("charges-left-out", charges_left_out),
                ("isotope-lost", isotope_lost),
            ):
                report(own.program, f"{slip}, {how}", bank(sow, 200), slip, own.show)
        if "infer" in only:
            inferred(own.program, items[: own.count], label, rng, own.show)


if __name__ == "__main__":
    main()
