#!/usr/bin/env python3
"""Measure RDKit's own 2D coordinates with the same metrics as ours.

    python3 tests/witness/layout_rdkit.py [FILE] [POINTS]

FILE is a list of SMILES (default: first_5K.smi of the RDKit wheel), or steps as JSON Lines, whose starts are taken. Writes RDKit's coordinates to POINTS (default: a temporary
file), then runs `cargo bench --bench layout` twice: on our layout and on those points. Lines that RDKit does not read get no
points and are counted as such.
"""

import json
import os
import subprocess
import sys
import tempfile

from rdkit import Chem, RDConfig, RDLogger
from rdkit.Chem import rdDepictor


def points(smiles: str) -> str:
    """The points of a molecule's atoms in the order of the SMILES, or nothing."""
    options = Chem.SmilesParserParams()
    options.removeHs = False
    molecule = Chem.MolFromSmiles(smiles, options)
    if molecule is None:
        return ""
    rdDepictor.Compute2DCoords(molecule)
    conformer = molecule.GetConformer()
    places = (conformer.GetAtomPosition(at) for at in range(molecule.GetNumAtoms()))
    return " ".join(f"{place.x:.4f},{place.y:.4f}" for place in places)


def starts(path: str) -> str:
    """A list of the starts of steps."""
    target = os.path.join(tempfile.mkdtemp(), "starts.smi")
    with open(path, encoding="utf-8") as lines, open(target, "w", encoding="utf-8") as out:
        for line in lines:
            out.write(json.loads(line)["start"] + "\n")
    return target


def main() -> None:
    """Write the points and run the benchmark on both layouts."""
    RDLogger.DisableLog("rdApp.*")
    default = os.path.join(RDConfig.RDDataDir, "NCI", "first_5K.smi")
    path = os.path.abspath(sys.argv[1]) if len(sys.argv) > 1 else default
    path = starts(path) if path.endswith(".jsonl") else path
    target = sys.argv[2] if len(sys.argv) > 2 else os.path.join(tempfile.mkdtemp(), "points.tsv")
    with open(path, encoding="utf-8") as lines, open(target, "w", encoding="utf-8") as out:
        for line in lines:
            fields = line.split()
            out.write((points(fields[0]) if fields else "") + "\n")
    bench = ["cargo", "bench", "--quiet", "--bench", "layout", "--", path]
    for name, options in [("keyassay", []), ("RDKit", ["--points", target])]:
        print(f"\n{name}", flush=True)
        subprocess.run(bench + options, check=True)


if __name__ == "__main__":
    main()
