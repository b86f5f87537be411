"""Writes published steps again with RDKit: other Kekulé forms, no stereo marks, and with or without labels.

    rewrite_steps.py BANK.jsonl OUT [COUNT [SEED]]

Writes OUT/labelled.jsonl and OUT/bare.jsonl; every item of both asks what the original asks and states what it states, so that an
audit must find no error in it. The answer is put into a random order of atoms before its rings are localised, so that its
Kekulé form is any. A start is localised as well where no arrow touches an aromatic bond; else it stays as it is, since arrows
say there which form is meant.
"""

import json
import random
import re
import sys
from pathlib import Path

from rdkit import Chem


def molecule(text: str) -> Chem.Mol:
    """Reads a SMILES with its hydrogens as drawn."""
    reading = Chem.SmilesParserParams()
    reading.removeHs = False
    found = Chem.MolFromSmiles(text, reading)
    if found is None:
        raise ValueError(text)
    return found


def rewritten(text: str, labelled: bool) -> str:
    """The same compound in a random order of atoms and some Kekulé form, without stereo marks."""
    found = molecule(text)
    order = list(range(found.GetNumAtoms()))
    random.shuffle(order)
    found = Chem.RenumberAtoms(found, order)
    if not labelled:
        for atom in found.GetAtoms():
            atom.SetAtomMapNum(0)
    Chem.RemoveStereochemistry(found)
    Chem.Kekulize(found, clearAromaticFlags=True)
    return Chem.MolToSmiles(found, kekuleSmiles=True, canonical=False)


def touches_a_ring(start: str, arrows: str) -> bool:
    """Whether an arrow names two atoms that an aromatic bond joins."""
    found = molecule(start)
    atoms = {atom.GetAtomMapNum(): atom.GetIdx() for atom in found.GetAtoms()}
    for one, other in re.findall(r"(\d+)-(\d+)", arrows):
        ends = atoms.get(int(one)), atoms.get(int(other))
        bond = found.GetBondBetweenAtoms(*ends) if None not in ends else None
        if bond is not None and bond.GetIsAromatic():
            return True
    return False


def main() -> None:
    bank, out = Path(sys.argv[1]), Path(sys.argv[2])
    count, seed = (int(text) for text in (sys.argv[3:5] + ["300", "18"][len(sys.argv[3:5]) :]))
    random.seed(seed)
    items = [json.loads(line) for line in bank.read_text(encoding="utf-8").splitlines()]
    items = random.sample(items, min(count, len(items)))
    out.mkdir(parents=True, exist_ok=True)
    for name, labelled in (("labelled", True), ("bare", False)):
        lines, passed_over = [], 0
        for item in items:
            try:
                start = item["start"] if touches_a_ring(item["start"], item["arrows"]) else rewritten(item["start"], True)
                answer = rewritten(item["answer"], labelled)
            except ValueError:
                passed_over += 1
                continue
            lines.append(json.dumps({**item, "start": start, "answer": answer}))
        (out / f"{name}.jsonl").write_text("\n".join(lines) + "\n", encoding="utf-8")
        print(f"{name}: {len(lines)} items, {passed_over} that RDKit does not read are passed over")


if __name__ == "__main__":
    main()
