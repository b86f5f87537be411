"""A contact sheet to be looked at: our drawing beside RDKit's own, for a list of names.

    python tests/witness/contact_sheet.py PROGRAM OUT [LIST.tsv]

LIST holds a name and a SMILES a line (default: contact_sheet.tsv beside this script), and of steps their arrows, which we draw with the
product. OUT becomes a folder with two SVG files a
case and `index.html`, which shows them in pairs: ours left, RDKit's right.
"""

import html
import os
import subprocess
import sys

from rdkit import Chem, RDLogger
from rdkit.Chem.Draw import rdMolDraw2D

RDLogger.DisableLog("rdApp.*")


def theirs(smiles):
    molecule = Chem.MolFromSmiles(smiles, sanitize=True)
    if molecule is None:
        return None
    pen = rdMolDraw2D.MolDraw2DSVG(-1, -1)
    pen.drawOptions().fixedBondLength = 34
    pen.DrawMolecule(molecule)
    pen.FinishDrawing()
    return pen.GetDrawingText()


def main():
    program, out = sys.argv[1:3]
    beside = os.path.join(os.path.dirname(os.path.abspath(__file__)), "contact_sheet.tsv")
    os.makedirs(out, exist_ok=True)
    rows = []
    with open((sys.argv[3:] or [beside])[0], encoding="utf-8") as file:
        cases = [line.rstrip("\n").split("\t") for line in file if line.strip()]
    for at, (name, smiles, *arrows) in enumerate(cases):
        product = ["--product"] if arrows else []
        done = subprocess.run([program, "draw", smiles, *arrows, *product], capture_output=True, text=True, check=False)
        pair = [done.stdout, theirs(smiles) or ""]
        for side, text in zip(("ours", "theirs"), pair):
            with open(os.path.join(out, f"{at:03}-{side}.svg"), "w", encoding="utf-8") as svg:
                svg.write(text)
        images = "".join(f'<td><img alt="" src="{at:03}-{side}.svg"></td>' for side in ("ours", "theirs"))
        rows.append(f"<tr><th>{html.escape(name)}</th>{images}</tr>")
        if not done.stdout:
            print(f"{name}: {done.stderr.strip()}")
    with open(os.path.join(out, "index.html"), "w", encoding="utf-8") as page:
        page.write("<!doctype html><meta charset=utf-8><title>Contact sheet</title><table>" + "".join(rows) + "</table>")
    print(f"{len(rows)} cases in {out}")


if __name__ == "__main__":
    main()
