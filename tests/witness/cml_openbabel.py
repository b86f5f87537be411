"""Every CML file of a folder, as keyassay reads it and as Open Babel does: elements, charges, hydrogens, bonds.

    python cml_openbabel.py PROGRAM FOLDER

PROGRAM is the example `cml_atoms`; FOLDER holds the files (the Debian packages `libavogadro-data` and `kalzium-data`,
unpacked). Open Babel is PyPI's `openbabel-wheel` (GPL-2.0, run as a witness, not linked). A difference that no rule of
`explained` names is an error. Files whose valences are not those of their elements are listed as such.
"""

from __future__ import annotations

import json
import subprocess
import sys
from collections import Counter
from pathlib import Path

from openbabel import openbabel


def by_babel(path: str) -> dict:
    """What Open Babel reads, in the shape of `cml_atoms`."""
    conversion = openbabel.OBConversion()
    conversion.SetInFormat("cml")
    molecule = openbabel.OBMol()
    conversion.ReadFile(molecule, path)
    atoms = []
    for atom in openbabel.OBMolAtomIter(molecule):
        drawn = sum(1 for other in openbabel.OBAtomAtomIter(atom) if other.GetAtomicNum() == 1)
        symbol = openbabel.GetSymbol(atom.GetAtomicNum()) if atom.GetAtomicNum() else "*"
        atoms.append([symbol, atom.GetFormalCharge(), drawn + atom.GetImplicitHCount()])
    bonds = []
    for bond in openbabel.OBMolBondIter(molecule):
        ends = sorted([bond.GetBeginAtomIdx() - 1, bond.GetEndAtomIdx() - 1])
        bonds.append([*ends, bond.GetBondOrder()])
    return {"atoms": atoms, "bonds": sorted(bonds)}


def differences(own: dict, other: dict) -> list[str]:
    """What the two readings do not agree in."""
    found = []
    if [atom[0] for atom in own["atoms"]] != [atom[0] for atom in other["atoms"]]:
        return ["elements"]
    for at, (mine, theirs) in enumerate(zip(own["atoms"], other["atoms"])):
        if mine[1] != theirs[1]:
            found.append(f"charge of {mine[0]} {at + 1}: {mine[1]} here, {theirs[1]} there")
        if mine[2] != theirs[2]:
            found.append(f"hydrogens of {mine[0]} {at + 1}: {mine[2]} here, {theirs[2]} there")
    orders = {(a, b): order for a, b, order in other["bonds"]}
    mine = {(a, b): order for a, b, order in own["bonds"]}
    if set(orders) != set(mine):
        found.append(f"bonds: {sorted(set(mine) ^ set(orders))}")
    for ends, order in mine.items():
        # A delocalised bond has no order to compare; Open Babel has localised it.
        if order != "A" and ends in orders and orders[ends] != order:
            found.append(f"order of {ends}: {order} here, {orders[ends]} there")
    return found


def explained(own: dict, difference: str) -> str | None:
    """Why the two differ, where that is known."""
    if own["faults"]:
        return "refused here: " + own["faults"][0]
    words = difference.split()
    if words[0] == "hydrogens":
        symbol, here, there = words[2], int(words[4]), int(words[6])
        organic = {"B", "C", "N", "O", "P", "S", "F", "Cl", "Br", "I"}
        if symbol not in organic:
            return f"{symbol} is not of the organic subset of OpenSMILES: nothing undrawn is understood here"
        atom = own["atoms"][int(words[3].rstrip(":")) - 1]
        orders = [order for a, b, order in own["bonds"] if int(words[3].rstrip(":")) - 1 in (a, b)]
        total = sum(1 if order == "A" else order for order in orders)
        if "A" not in orders and here > there and atom[1] == 0:
            return f"neutral {symbol} with bond orders of {total}: filled up by the rule of OpenSMILES here, taken as it stands there"
    return None


def main() -> int:
    program, folder = sys.argv[1:3]
    openbabel.obErrorLog.SetOutputLevel(0)
    files = sorted(str(path) for path in Path(folder).rglob("*.cml"))
    lines = subprocess.run([program, *files], check=True, capture_output=True, text=True).stdout.splitlines()
    by_file: dict[str, list[dict]] = {}
    for line in lines:
        reading = json.loads(line)
        by_file.setdefault(reading["file"], []).append(reading)
    compared = Counter()
    reasons: Counter[str] = Counter()
    unexplained = []
    for path in files:
        readings = by_file.get(path, [])
        if len(readings) != 1:
            compared["not one molecule"] += 1
            continue
        own = readings[0]
        if own["faults"]:
            compared["refused"] += 1
            print(f"refused: {path}: {own['faults'][0]}")
        if own["electrons"]:
            compared["illegal valences"] += 1
            print(f"illegal valences: {path}: {' '.join(own['electrons'])}")
        found = differences(own, by_babel(path))
        compared["equal" if not found else "different"] += 1
        for difference in found:
            reason = explained(own, difference)
            if reason is None:
                unexplained.append(f"{path}: {difference}")
            else:
                reasons[reason] += 1
                print(f"differs: {path}: {difference}")
    print(dict(compared), "of", len(files), "files")
    for reason, count in reasons.most_common():
        print(f"{count:>6}  {reason}")
    for line in unexplained:
        print("UNEXPLAINED", line)
    return 1 if unexplained or not files else 0


if __name__ == "__main__":
    sys.exit(main())
