"""The resonance contributors that RDKit lists for charged or conjugated species, atom by atom.

Source: PyPI `rdkit` (BSD-3-Clause), `Chem.ResonanceMolSupplier`; the species are this file's own list, donors and
acceptors joined by every bridge, and the small conjugated molecules of the wheel's `NCI/first_5K.smi`.

One call of the supplier does not list every contributor (four of the five of cyclopentadienide), and what it lists
depends on the form that it starts from: it is called again on each contributor until nothing new comes. Two lists:

contributors   flags KEKULE_ALL and ALLOW_CHARGE_SEPARATION
further        what comes on top with ALLOW_INCOMPLETE_OCTETS, UNCONSTRAINED_CATIONS and UNCONSTRAINED_ANIONS;
               absent where both lists together pass 64

Every structure is localised, every atom has its label and its hydrogens in brackets.
"""

from __future__ import annotations

import json
from collections.abc import Iterator

from rdkit import Chem, RDLogger

from freeze_structures import strings
from frozen import WITNESS, settle

USUAL = Chem.KEKULE_ALL | Chem.ALLOW_CHARGE_SEPARATION
FURTHER = USUAL | Chem.ALLOW_INCOMPLETE_OCTETS | Chem.UNCONSTRAINED_CATIONS | Chem.UNCONSTRAINED_ANIONS
MOST = 64

# Ions and molecules that textbooks draw with several contributors (the choice is ours, from memory).
NAMED = """
C=C[CH2+] C=C[CH2-] [CH2+]c1ccccc1 [CH2-]c1ccccc1 [O-]c1ccccc1 [S-]c1ccccc1 [NH-]c1ccccc1 O=C([O-])[O-] [O-][N+](=O)[O-]
CC([O-])=O [O-]C=O CC(=O)[S-] CC([O-])=S CC(=S)[S-] NC(N)=[NH2+] CC(N)=[NH2+] NC=[NH2+] CN(C)C=[N+](C)C C[N+](=O)[O-]
C=[N+]([O-])[O-] CC=[N+]([O-])[O-] [N-]=[N+]=[N-] C[N-][N+]#N CN=[N+]=[N-] C=[N+]=[N-] [CH2-][N+]#N [O-][O+]=O
O=[N+][O-] O=N[O-] [N-]=[N+]=O [O-][N+]#N N#C[O-] N#C[S-] [N-]=C=O [N-]=C=S [C-]#N N#C[CH-]C#N C[C-](C#N)C#N
[cH-]1cccc1 C1=CC=C[CH+]C=C1 c1ccccc1 c1ccc2ccccc2c1 c1ccc2cc3ccccc3cc2c1 c1ccc2c(c1)ccc1ccccc12 c1cc[nH]c1 c1ccoc1
c1ccsc1 c1cc[n-]c1 c1ccncc1 c1cc[nH+]cc1 c1cc[n+]([O-])cc1 c1c[nH]cn1 c1c[nH]c[nH+]1 c1c[n-]cn1 c1ccc2[nH]ccc2c1
c1ccc2ncccc2c1 c1cnccn1 c1cncnc1 c1ccnnc1 Cc1ccccc1C Cc1ccccc1 C=Cc1ccccc1 Oc1ccccc1 Nc1ccccc1 COc1ccccc1
CN(C)c1ccccc1 O=Cc1ccccc1 O=C(O)c1ccccc1 [O-]C(=O)c1ccccc1 N#Cc1ccccc1 O=[N+]([O-])c1ccccc1 [CH+]1C=CC=CC1
CC1C=C[CH+]C=C1 O=[N+]([O-])C1C=C[CH+]C=C1 BrC1C=CC=C[CH+]1 [O-]C1=CC=CC=C1 CC(=O)[CH-]C(C)=O CC(=O)[CH-]C(=O)OCC
CCOC(=O)[CH-]C(=O)OCC CC(=O)[CH-]C#N CC(=O)N NC=O CN(C)C=O CC(=O)NC NC(N)=O NC(N)=S CC(=O)[NH-] O=C1[N-]C(=O)CC1
O=C1[N-]C(=O)c2ccccc12 C=CO C=CN C=COC C=C[O-] C=C[NH-] CC(C)=CN(C)C CC(=C)[O-] CC([O-])=CC C1CCC(=CC1)[O-]
C=CC=C[CH2+] C=CC=C[CH2-] C=CC=CC=C[CH2+] C=C[CH+]C=C C=C[CH-]C=C [CH2+]C(=C)C=C C[CH+]C=C CC(C)=C[CH2+] C[C+](C)C=C
[CH+](c1ccccc1)c1ccccc1 [CH2+]C=Cc1ccccc1 C=C[CH+]c1ccccc1 [CH-](C=O)C=O O=C[CH-]C=C [O-]C=CC=O [O-]C=CC=C C=CC=C[O-]
C[CH-][N+](=O)[O-] [CH2-][N+](=O)[O-] [CH2-]C#N [CH2-]C=O CC(=O)[CH2-] [CH2-]C(=O)OC [CH2-]C(=O)N(C)C C[S+](C)[CH-]C(C)=O
CC(=O)OC(C)=O CC(=O)OC CC(=O)SC CC(=[OH+])C CC(=O)C CC(O)=[OH+] COC(C)=[OH+] CC(=[OH+])OC NC(C)=[OH+] OC(O)=[OH+] OC(=O)[O-]
NC([O-])=O [O-]C(=O)C([O-])=O [O-]C(=O)C=CC([O-])=O OC(=O)C=CC([O-])=O C[N+](C)=C CC=[N+](C)C C=[N+](C)C=C C=C[N+](C)=C
C1=C[N+](C)=CC=C1 c1cc(ccc1[O-])[N+](=O)[O-] c1ccc(c(c1)[O-])[N+](=O)[O-] Nc1ccc(cc1)[N+](=O)[O-] CN(C)c1ccc(C=O)cc1
O=C1C=CC(=O)C=C1 O=C1C=CC=CC1=O [O-]c1ccc([O-])cc1 O=C1C=CC=CC=C1 [OH+]=C1C=CC=CC=C1 O=C1C=COC=C1 c1cc[o+]cc1 c1cc[s+]cc1
N#[N+]c1ccccc1 [N-]=[N+]=Nc1ccccc1 C[N+](C)(C)[CH-]C=O [CH-]=[N+]=N [O-][n+]1ccccc1 O=c1cc[nH]cc1 O=c1cccc[nH]1 [O-]c1ccccn1
Oc1ccccn1 Nc1ccccn1 Nc1ccncc1 CN(C)c1ccncc1 CN(C)c1cc[n+](C)cc1 Nc1ccc[nH+]c1 Cc1c[nH]c[nH+]1 C[n+]1ccn(C)c1 c1c[n-]nn1 c1nn[n-]n1
O=C1NC=CC(=O)N1 Cc1c[nH]c(=O)[nH]c1=O Nc1cc[nH]c(=O)n1 Nc1ncnc2[nH]cnc12 [O-]C1=CC(=O)CCC1 CC1=CC(=O)C=C(C)[CH-]1 [S-]C=C [Se-]C=C
OB(O)C=C FC=C ClC=C BrC=C FC(F)=C[CH2+] C[O+]=CC=C C[N+]#CC C[C-]=[N+]=[N-] [CH-]1C=CC=C1C=O [CH-]1C=CC=C1C(C)=O [CH+]1C=C1 c1ccc2[cH-]ccc2c1
""".split()

# Every donor with every bridge and every acceptor; `{}` is where the next piece goes on.
DONORS = "[O-]{} [S-]{} [NH-]{} [CH2-]{} N{} CN(C){} O{} CO{} CS{} C{} [CH2+]{} OC{}".split()
BRIDGES = "{} C=C{} c1ccc(cc1){} C=CC=C{} c1cccc(c1){}".split()
ACCEPTORS = "C=O C(C)=O C(=O)OC [N+](=O)[O-] C#N C=[NH2+] C=[OH+] C=C C(=O)N C([O-])=O".split()
# Molecules of the wheel's file with at most so many heavy atoms.
LARGEST = 10


def candidates() -> Iterator[tuple[str, str]]:
    """Name and SMILES of every species that is tried, in a fixed order."""
    for at, smiles in enumerate(NAMED, 1):
        yield f"named-{at}", smiles
    for d, donor in enumerate(DONORS, 1):
        for b, bridge in enumerate(BRIDGES, 1):
            for a, acceptor in enumerate(ACCEPTORS, 1):
                yield f"joined-{d}-{b}-{a}", donor.format(bridge.format(acceptor))
    for number, smiles in strings():
        yield f"nci-{number}", smiles


def labelled(smiles: str) -> str | None:
    """The species localised with labels 1, 2, ... ; None where RDKit refuses it or it is larger than wanted."""
    mol = Chem.MolFromSmiles(smiles)
    if mol is None:
        return None
    for atom in mol.GetAtoms():
        atom.SetAtomMapNum(atom.GetIdx() + 1)
    return write(mol)


def write(mol: Chem.Mol) -> str:
    """Localised SMILES in the order of the atoms, without stereo marks."""
    flat = Chem.RWMol(mol)
    Chem.RemoveStereochemistry(flat)
    Chem.Kekulize(flat, clearAromaticFlags=True)
    return Chem.MolToSmiles(flat, canonical=False)


def identity(mol: Chem.Mol) -> tuple[tuple[int, ...], ...]:
    """What makes two drawings of the same labelled atoms the same drawing."""
    atoms = sorted((atom.GetAtomMapNum(), atom.GetFormalCharge()) for atom in mol.GetAtoms())
    bonds = sorted(
        (*sorted((bond.GetBeginAtom().GetAtomMapNum(), bond.GetEndAtom().GetAtomMapNum())), int(bond.GetBondTypeAsDouble()))
        for bond in mol.GetBonds()
    )
    return (*atoms, *bonds)


def listed(start: str, flags: Chem.ResonanceFlags) -> dict[tuple[tuple[int, ...], ...], str] | None:
    """All contributors that the supplier lists, from the start and from each of them; None beyond the cap."""
    found: dict[tuple[tuple[int, ...], ...], str] = {}
    waiting = [start]
    while waiting:
        mol = Chem.MolFromSmiles(waiting.pop())
        for form in Chem.ResonanceMolSupplier(mol, flags, 4 * MOST):
            # The supplier counts some forms that it cannot build, and gives None for them.
            key = form and identity(form)
            if key and key not in found:
                found[key] = write_form(form)
                waiting.append(found[key])
        if len(found) > MOST:
            return None
    return found


def write_form(form: Chem.Mol) -> str:
    """A contributor's bonds are localised already; only its flags still call some of them aromatic."""
    plain = Chem.RWMol(form)
    for part in (*plain.GetAtoms(), *plain.GetBonds()):
        part.SetIsAromatic(False)
    return Chem.MolToSmiles(plain, canonical=False)


def species() -> Iterator[dict[str, object]]:
    """One record a species that has at least two contributors."""
    seen = set()
    for name, smiles in candidates():
        start = labelled(smiles)
        if start is None or start in seen:
            continue
        seen.add(start)
        if name.startswith("nci") and not 3 <= start.count(":") <= LARGEST:
            continue
        usual = listed(start, USUAL)
        further = listed(start, FURTHER)
        if usual is None or len({**usual, **(further or {})}) < 2:
            continue
        record: dict[str, object] = {"id": name, "start": start, "contributors": sorted(usual.values())}
        if further is not None and len({**usual, **further}) <= MOST:
            record["further"] = sorted(text for key, text in further.items() if key not in usual)
        yield record


def lines() -> Iterator[str]:
    """The whole file."""
    return (json.dumps(record, separators=(",", ":")) for record in species())


if __name__ == "__main__":
    RDLogger.DisableLog("rdApp.*")
    raise SystemExit(settle(lines(), WITNESS / "contributors.jsonl", __doc__))
