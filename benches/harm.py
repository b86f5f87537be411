#!/usr/bin/env python3
"""Do corrections harm? Banks of which half the items are faulty, corrected by `amend` and held against the truth.

    python3 benches/harm.py PROGRAM STEPS.jsonl [--banks 3] [--count 3000] [--keep FOLDER]

Each bank is sown from published steps (as `steps.py` sows them) with a seed of its own; beside it lies a truth file that says of each item what
its fields should say. The bank is audited and corrected at `certain` and at `likely`, and the corrected copy is compared with the
truth: a field that was right before and is another one now was overwritten. Corrected items are audited again and have to be sound.
"""

from __future__ import annotations

import argparse
import csv
import json
import random
import subprocess
import tempfile
from collections import Counter
from pathlib import Path

import steps

SOWN = {
    "arrow left out": steps.left_out(1),
    "two arrows left out": steps.left_out(2),
    "arrow changed": steps.changed,
    "fault in the answer": steps.answer_fault,
    "proton moved": steps.proton_moved,
    "other contributor": steps.other_contributor,
    "charges left out": steps.charges_left_out,
    "isotope lost": steps.isotope_lost,
}


def shuffled(smiles: str, rng: random.Random) -> str:
    mol = steps.molecule(smiles)
    order = list(range(mol.GetNumAtoms()))
    rng.shuffle(order)
    return steps.unlabelled(steps.Chem.RWMol(steps.Chem.RenumberAtoms(mol, order)))


def bank(items: list[dict], seed: int, count: int) -> list[dict]:
    """Items with what is wrong with them under `wrong` and what they should say under `truth`."""
    rng = random.Random(seed)
    made: list[dict] = []
    while len(made) < count:
        item = rng.choice(items)
        own = dict(item) | {"wrong": "", "sown": ""}
        if len(made) % 2:
            name = rng.choice(list(SOWN))
            seeded = SOWN[name](dict(item), rng)
            if seeded is None:
                continue
            field = "arrows" if seeded["arrows"] != item["arrows"] else "answer"
            if field == "answer" and steps.drawing(seeded["answer"]) == steps.drawing(item["answer"]) and name != "isotope lost":
                continue
            own |= seeded | {"wrong": field, "sown": name}
        own["truth"] = {"arrows": item["arrows"], "answer": item["answer"]}
        if rng.random() < 0.5:
            own["answer"] = shuffled(own["answer"], rng)
        own["id"] = f"{seed}-{len(made):05}"
        made.append(own)
    return made


def run(*command: str) -> str:
    return subprocess.run(command, capture_output=True, text=True, check=False).stdout


def corrected(program: str, folder: Path, grade: str) -> dict[str, dict]:
    out = folder / f"{grade}.jsonl"
    run(program, "amend", str(folder / "bank.jsonl"), "--with", str(folder / "out/corrections.csv"), "--out", str(out), "--grade", grade)
    return {item["id"]: item for item in map(json.loads, out.read_text().splitlines())}


def examine(program: str, made: list[dict], folder: Path) -> dict[str, list]:
    fields = ("id", "start", "arrows", "answer")
    (folder / "bank.jsonl").write_text("".join(json.dumps({name: item[name] for name in fields}) + "\n" for item in made))
    (folder / "truth.jsonl").write_text("".join(json.dumps({"id": item["id"], "wrong": item["wrong"], "sown": item["sown"], **item["truth"]}) + "\n" for item in made))
    run(program, "audit", str(folder / "bank.jsonl"), "--out", str(folder / "out"), "--write", "csv", "--fail-on", "never", "--quiet")
    found = {}
    for grade in ("certain", "likely"):
        now = corrected(program, folder, grade)
        touched = [item for item in made if any(now[item["id"]][field] != item[field] for field in ("arrows", "answer"))]
        harmed = [item | {"now": now[item["id"]]} for item in touched for field in ("arrows", "answer") if now[item["id"]][field] != item[field] and item["wrong"] != field]
        again = folder / f"again-{grade}"
        run(program, "audit", str(folder / f"{grade}.jsonl"), "--out", str(again), "--write", "csv", "--fail-on", "never", "--quiet")
        with (again / "audit.csv").open() as rows:
            errors = {row["item"] for row in csv.DictReader(rows) if row["severity"] == "error" and row["finding"] not in ("conflicting-answers",)}
        found[grade] = [len(touched), harmed, [item["id"] for item in touched if item["id"] in errors]]
    return found


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    reader.add_argument("program")
    reader.add_argument("steps", type=Path)
    reader.add_argument("--banks", type=int, default=3)
    reader.add_argument("--count", type=int, default=3000)
    reader.add_argument("--seed", type=int, default=1)
    reader.add_argument("--keep", type=Path, help="where the banks and their truth files stay")
    reader.add_argument("--show", type=int, default=1000, help="overwritten fields that are listed")
    own = reader.parse_args()
    items = [json.loads(line) for line in own.steps.read_text().splitlines() if line.strip()]
    found = steps.audited(own.program, items)
    items = [item for item in items if not found[item["id"]]]
    for seed in range(own.seed, own.seed + own.banks):
        made = bank(items, seed, own.count)
        with tempfile.TemporaryDirectory() as scratch:
            folder = (own.keep or Path(scratch)) / f"bank-{seed}"
            folder.mkdir(parents=True, exist_ok=True)
            for grade, (touched, harmed, unsound) in examine(own.program, made, folder).items():
                wrong = sum(bool(item["wrong"]) for item in made)
                print(f"bank {seed}, {len(made)} items, {wrong} faulty, {grade}: {touched} corrected, right fields overwritten {len(harmed)}, not sound afterwards {len(unsound)}")
                print("   ", dict(Counter(item["sown"] or "right item" for item in harmed)))
                for item in harmed[: own.show]:
                    print("    -", item["sown"], "|", item["start"], "|", item["arrows"], "|", item["answer"], "| was", item["truth"], "| now", item["now"]["arrows"], item["now"]["answer"])
                print("    unsound:", unsound[:10])


if __name__ == "__main__":
    main()
