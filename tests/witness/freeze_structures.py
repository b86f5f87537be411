"""What RDKit reads in the 4,999 strings of its Data/NCI/first_5K.smi: hydrogens, charge, unpaired electrons, localised form.

Source: PyPI `rdkit` (BSD-3-Clause), data file `NCI/first_5K.smi` of the same wheel. Nearly all strings of that file are
drawn localised, so the aromatic spelling that RDKit writes for the same molecule is frozen beside each. Columns:

id          number of the line in the source
smiles      the string as it stands there
hydrogens   one digit an atom: all its hydrogens, drawn or not (drawn hydrogen atoms are atoms of their own too)
charges     ATOM:CHARGE where it is not 0; atoms are counted from 1 in the order of the string
unpaired    ATOM:COUNT where RDKit finds unpaired electrons
multiple    ATOM=ATOM or ATOM#ATOM: the double and triple bonds, as drawn
aromatic    RDKit's aromatic string, empty where nothing is aromatic
order       for each atom of the aromatic string, its number in `smiles`; empty where the order is the same
same        the first `id` whose string is the same drawing by RDKit's canonical SMILES, where that is another line
note        `valence` where RDKit refuses the string for its valences; it is then read without that check
"""

from __future__ import annotations

import os
from collections.abc import Iterator

from rdkit import Chem, RDConfig, RDLogger

from frozen import WITNESS, settle

SOURCE = os.path.join(RDConfig.RDDataDir, "NCI", "first_5K.smi")
COLUMNS = "id smiles hydrogens charges unpaired multiple aromatic order same note".split()
SIGN = {Chem.BondType.DOUBLE: "=", Chem.BondType.TRIPLE: "#", Chem.BondType.QUADRUPLE: "$"}


def strings() -> Iterator[tuple[str, str]]:
    """Number and SMILES of every line of the source."""
    with open(SOURCE, encoding="ascii") as source:
        for line in source:
            smiles, number = line.split()
            yield number, smiles


def read(smiles: str) -> tuple[Chem.Mol, bool]:
    """The molecule as drawn (RDKit's clean-up would redraw perchlorates), and whether its valences were accepted."""
    mol = Chem.MolFromSmiles(smiles, sanitize=False)
    accepted = not Chem.SanitizeMol(mol, Chem.SANITIZE_ALL ^ Chem.SANITIZE_CLEANUP, catchErrors=True)
    if not accepted:
        mol = Chem.MolFromSmiles(smiles, sanitize=False)
        mol.UpdatePropertyCache(strict=False)
        Chem.AssignRadicals(mol)
    return mol, accepted


def sparse(counts: list[int]) -> str:
    """`ATOM:COUNT` for all counts that are not 0."""
    return ",".join(f"{at}:{count}" for at, count in enumerate(counts, 1) if count)


def multiple_bonds(mol: Chem.Mol) -> str:
    """The double and triple bonds of the localised form."""
    localised = Chem.Mol(mol)
    Chem.Kekulize(localised, clearAromaticFlags=True)
    pairs = sorted(
        (*sorted((bond.GetBeginAtomIdx() + 1, bond.GetEndAtomIdx() + 1)), SIGN[bond.GetBondType()])
        for bond in localised.GetBonds()
        if bond.GetBondType() in SIGN
    )
    return ",".join(f"{a}{sign}{b}" for a, b, sign in pairs)


def aromatic(mol: Chem.Mol) -> tuple[str, str]:
    """RDKit's aromatic string and the order of its atoms."""
    if not any(atom.GetIsAromatic() for atom in mol.GetAtoms()):
        return "", ""
    text = Chem.MolToSmiles(mol, canonical=False)
    order = [int(at) + 1 for at in mol.GetProp("_smilesAtomOutputOrder").strip("[],").split(",")]
    return text, "" if order == sorted(order) else " ".join(map(str, order))


def identity(drawn: Chem.Mol) -> str:
    """RDKit's canonical SMILES of the localised drawing: other double bonds are another drawing."""
    drawn.UpdatePropertyCache(strict=False)
    Chem.FastFindRings(drawn)
    return Chem.MolToSmiles(drawn)


def row(number: str, smiles: str, first: dict[str, str]) -> str:
    """The line of one string; `first` keeps the first number of each drawing."""
    mol, accepted = read(smiles)
    atoms = list(mol.GetAtoms())
    text, order = aromatic(mol) if accepted else ("", "")
    drawn = Chem.MolFromSmiles(smiles, sanitize=False)
    bonds = multiple_bonds(drawn)
    earlier = first.setdefault(identity(drawn), number)
    return "\t".join((
        number,
        smiles,
        "".join(str(atom.GetTotalNumHs(includeNeighbors=True)) for atom in atoms),
        sparse([atom.GetFormalCharge() for atom in atoms]),
        sparse([atom.GetNumRadicalElectrons() for atom in atoms]),
        bonds,
        text,
        order,
        earlier if earlier != number else "",
        "" if accepted else "valence",
    ))


def lines() -> Iterator[str]:
    """The whole file."""
    yield "\t".join(COLUMNS)
    first: dict[str, str] = {}
    for number, smiles in strings():
        yield row(number, smiles, first)


if __name__ == "__main__":
    RDLogger.DisableLog("rdApp.*")
    raise SystemExit(settle(lines(), WITNESS / "structures.tsv", __doc__))
