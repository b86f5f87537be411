"""Drawn stereochemistry read back by RDKit: our coordinates and wedges must mean the isomer that was written.

    python tests/witness/stereo_drawn.py --isomers MARKED.smi [FILE.smi]
    cargo bench --bench layout -- MARKED.smi --molfiles DRAWN.sdf
    python tests/witness/stereo_drawn.py DRAWN.sdf [--most 2000] [--list]

The first command makes a list of isomers where there is none: of each molecule of FILE (default: first_5K.smi of the RDKit
wheel) that may have marks, two isomers with all of them, drawn by lot from a fixed seed.

Each molfile is named by the SMILES that was drawn. RDKit reads the molfile (perceiving centres from wedges and double bonds
from coordinates) and the SMILES; both must have the same canonical isomeric SMILES. Marks that RDKit itself drops from the
SMILES, since its rules see no stereo there, are dropped on both sides. Molecules without any mark are passed over.
"""

import os
import random
import sys

from rdkit import Chem, RDConfig, RDLogger
from rdkit.Chem import FindPotentialStereo

RDLogger.DisableLog("rdApp.*")


def isomer(molecule, lots):
    """The molecule with a mark at every place that may have one."""
    for info in FindPotentialStereo(molecule):
        if info.type == Chem.StereoType.Atom_Tetrahedral:
            atom = molecule.GetAtomWithIdx(info.centeredOn)
            # Three-bonded nitrogen turns inside out, or is held by its cage: nobody marks it.
            if (atom.GetSymbol(), atom.GetTotalDegree()) == ("N", 3):
                continue
            tags = [Chem.ChiralType.CHI_TETRAHEDRAL_CW, Chem.ChiralType.CHI_TETRAHEDRAL_CCW]
            atom.SetChiralTag(lots.choice(tags))
        elif info.type == Chem.StereoType.Bond_Double:
            bond = molecule.GetBondWithIdx(info.centeredOn)
            ends = [bond.GetBeginAtom(), bond.GetEndAtom()]
            others = [[a.GetIdx() for a in end.GetNeighbors() if a.GetIdx() != ends[1 - at].GetIdx()]
                      for at, end in enumerate(ends)]
            if all(others) and not bond.IsInRing():
                bond.SetStereoAtoms(others[0][0], others[1][0])
                bond.SetStereo(lots.choice([Chem.BondStereo.STEREOCIS, Chem.BondStereo.STEREOTRANS]))
    return Chem.MolToSmiles(Chem.MolFromSmiles(Chem.MolToSmiles(molecule)))


def write_isomers(out, path):
    lots = random.Random(22)
    with open(path, encoding="utf-8") as file, open(out, "w", encoding="utf-8") as marked:
        for line in file:
            isomers = set()
            for _ in range(2):
                molecule = Chem.MolFromSmiles(line.split()[0]) if line.split() else None
                if molecule is not None:
                    isomers.add(isomer(molecule, lots))
            for text in sorted(isomers):
                if any(mark in text for mark in "@/\\"):
                    marked.write(text + "\n")


def blocks(path):
    with open(path, encoding="utf-8") as file:
        for block in file.read().split("$$$$\n"):
            if block.strip():
                yield block.split("\n", 1)[0], block


def canonical(molecule):
    molecule = Chem.RemoveHs(molecule)
    Chem.AssignStereochemistry(molecule, cleanIt=True, force=True)
    # Once more through SMILES: canonical form is that of a molecule as read.
    return Chem.CanonSmiles(Chem.MolToSmiles(molecule))


def main():
    arguments = sys.argv[1:]
    if arguments[:1] == ["--isomers"]:
        default = os.path.join(RDConfig.RDDataDir, "NCI", "first_5K.smi")
        write_isomers(arguments[1], (arguments[2:] or [default])[0])
        return
    most = int(arguments[arguments.index("--most") + 1]) if "--most" in arguments else 2000
    seen = same = unread = 0
    wrong = []
    for smiles, block in blocks(arguments[0]):
        written = Chem.MolFromSmiles(smiles)
        if written is None:
            continue
        wanted = canonical(written)
        if not any(mark in wanted for mark in "@/\\"):
            continue
        if seen == most:
            break
        seen += 1
        drawn = Chem.MolFromMolBlock(block)
        if drawn is None:
            unread += 1
            wrong.append((smiles, "not read"))
            continue
        found = canonical(drawn)
        if found == wanted:
            same += 1
        else:
            wrong.append((smiles, f"{found}\tnot\t{wanted}"))
    if "--list" in arguments:
        for smiles, why in wrong:
            print(f"{smiles}\t{why}")
    print(f"{seen} molecules with marks, {same} read back as written, {len(wrong)} otherwise, {unread} of these not read")
    sys.exit(0 if not wrong and seen else 1)


if __name__ == "__main__":
    main()
