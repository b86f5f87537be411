"""What RDKit reads in strings that go beyond the specification, and which strings it refuses.

Source: PyPI `rdkit` (BSD-3-Clause); the strings are ours. Columns:

smiles      the string
standard    the same molecule as RDKit writes it, localised and with every hydrogen drawn, which is a string of the specification;
            empty where RDKit refuses
"""

from __future__ import annotations

from collections.abc import Iterator

from rdkit import Chem, RDLogger

from frozen import WITNESS, settle

STRINGS = """
[HH]
[HH:7]
[2HH]
[2HH:3]
[HH].[HH]
[HH].C=C
C=C.[HH:4].[Na+]
C(C)1CCCC1
C(C)(O)1CCCCC1
C(=O)1CCCC1
C(C)=1CCCC1
C(C)=1CCCC=1
C1(CC2)CCC2C1
C(C)1.C1
C(C1)1
C[C@](O)1NCCS1
C[C@@](O)1NCCS1
C[C@](N)(O)1.Cl1
[C@H](C)1OCCS1
O[C@](C)1CCC[C@@H]1F
N(C)1C(=O)CCC1
c(C)1ccccc1
C%(12)CCCC%(12)
C%(1)CCCC1
C%(123)CC%(99)C%(123)C%(99)
C%12CCCC%(12)
CC |^1:0|
[CH2]C |^1:0|
C[O] |^1:1|
C[C](C)C |^1:1|
[CH2] |^2:0|
C |^2:0|
[CH2] |^4:0|
CC.CC |^1:0,3|
CC.C |^1:1,^2:2|
[HH].C |^1:1|
C[C@H](O)F |&1:1|
C[C@H](O)F |a:1|
CC |$_AP1;$|
CCO |(0,0,;1,0,;2,0,)|
CC |$a;b$,^1:0|
[CH3:0][CH3:1]
[HH2]
[H2]
C(C)1CC
C%()CC%()
C |SgD|
""".split("\n")


def lines() -> Iterator[str]:
    """The whole file."""
    yield "smiles\tstandard"
    for smiles in filter(None, STRINGS):
        molecule = Chem.MolFromSmiles(smiles)
        standard = ""
        if molecule is not None:
            whole = Chem.AddHs(molecule)
            Chem.Kekulize(whole, clearAromaticFlags=True)
            standard = Chem.MolToSmiles(whole, kekuleSmiles=True, allHsExplicit=True)
        yield f"{smiles}\t{standard}"


if __name__ == "__main__":
    RDLogger.DisableLog("rdApp.*")
    raise SystemExit(settle(lines(), WITNESS / "loose.tsv", __doc__))
