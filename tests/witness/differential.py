"""Random questions to the program and to an independent implementation: do they agree on every one?

The answers are those of `push.py`, a bond-electron matrix on RDKit (PyPI `rdkit`, BSD-3-Clause); the questions are those
of `cases.py`, seeded. A right item must be sound; a broken one must have an error of the expected name. The program is
run as a user runs it, on banks of JSON Lines.

    differential.py target/release/keyassay                 100,000 cases
    differential.py --cases 5000 --seed 7 target/release/keyassay
    differential.py --bank FILE --cases 5000                the bank alone, nothing is run
"""

from __future__ import annotations

import argparse
import csv
import json
import random
import re
import subprocess
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from multiprocessing import Pool
from pathlib import Path

from rdkit import RDLogger

from cases import Case, cases

CHUNK = 5_000
# Random small questions do meet again; what the whole bank says about them is not compared here.
BANK_WIDE = {"repeated-question", "conflicting-answers", "shifted-answers", "shifted-labels"}
# Warnings that say how an item was taken.
TOLD_WARNINGS = {"undecided", "steps-in-one"}


def chunks(seed: int, number: int) -> Iterator[tuple[str, int]]:
    """Seed and size of each part of the run; a part does not depend on the others."""
    for at in range(0, number, CHUNK):
        yield f"{seed}/{at // CHUNK}", min(CHUNK, number - at)


def items(part: tuple[str, int]) -> list[Case]:
    """The items of one part, named."""
    seed, number = part
    RDLogger.DisableLog("rdApp.*")
    return [{"id": f"{seed}/{at}", **case} for at, case in enumerate(cases(seed, number), 1)]


def loosened(item: Case) -> Case:
    """The item in other spellings that have one reading, for every third: how arrows are written and parted, and ring numbers. What it
    asks and states stays."""
    choice = random.Random(f"loose/{item['id']}")
    if choice.random() > 1 / 3 or not isinstance(item.get("arrows"), str):
        return item
    arrows = [arrow.strip() for arrow in item["arrows"].split(";")]
    pair, part = choice.choice([" => ", " \u2192 ", "-->", " to ", "->"]), choice.choice([", ", " and ", "; ", "numbers"])
    arrows = [re.sub(r"\s*->\s*", pair, arrow) for arrow in arrows]
    if part == "numbers":
        arrows, part = [f"{at}) {arrow}" for at, arrow in enumerate(arrows, 1)], "; "
    told = {name: rings_in_brackets(item[name]) for name in ("start", "answer") if isinstance(item.get(name), str)}
    return {**item, **(told if choice.random() < 0.5 else {}), "arrows": part.join(arrows)}


def rings_in_brackets(smiles: str) -> str:
    """Ring numbers as `%(1)`; what stands in the brackets of atoms stays."""
    parts = re.split(r"(\[[^\]]*\]|%\d\d)", smiles)
    return "".join(part if at % 2 else re.sub(r"\d", r"%(\g<0>)", part) for at, part in enumerate(parts))


def write_bank(bank: list[Case], path: Path) -> None:
    """JSON Lines, one item a line."""
    path.write_text("".join(json.dumps(item, ensure_ascii=False) + "\n" for item in bank), encoding="utf-8")


def audit(program: str, bank: list[Case]) -> tuple[dict[str, set[str]], dict[str, int]]:
    """The names of the findings of each item that are no mere notes, and the totals."""
    with tempfile.TemporaryDirectory() as folder:
        path, out = Path(folder, "bank.jsonl"), Path(folder, "out")
        write_bank([loosened(item) for item in bank], path)
        command = [program, "audit", "--quiet", "--fail-on", "never", "--write", "csv,json", "--out", str(out), str(path)]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        found: dict[str, set[str]] = defaultdict(set)
        with open(out / "audit.csv", encoding="utf-8", newline="") as rows:
            for row in csv.DictReader(rows):
                if row["severity"] == "error" or row["finding"] in TOLD_WARNINGS:
                    found[row["item"]].add(row["finding"])
        totals = json.loads((out / "audit.json").read_text(encoding="utf-8"))["totals"]
    return found, totals


def judge(item: Case, found: set[str]) -> bool:
    """Whether the program says what the independent implementation expects."""
    found = found - BANK_WIDE
    # The independent implementation sums all arrows at once. Arrows that find their electrons one step after the other are a
    # warning of the program, which cuts them; what the sum gives is compared as ever.
    if item["expect"] in {"empty-tail", "overdrawn-tail"} and "steps-in-one" in found:
        return True
    found -= {"steps-in-one"}
    return not found if item["expect"] == "sound" else item["expect"] in found


def compare(program: str, part: tuple[str, int]) -> tuple[int, list[tuple[Case, set[str]]]]:
    """Number of cases of a part, and those on which the two differ."""
    bank = items(part)
    found, totals = audit(program, bank)
    if totals["items"] != len(bank):
        raise SystemExit(f"{part[0]}: {len(bank)} items written, {totals['items']} read")
    return len(bank), [(item, found[item["id"]]) for item in bank if not judge(item, found[item["id"]])]


def star(work: tuple[str, tuple[str, int]]) -> tuple[int, list[tuple[Case, set[str]]]]:
    """`compare` for a pool."""
    return compare(*work)


def main() -> int:
    """The exit status is 1 where any case differs."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("program", nargs="?", help="the keyassay program")
    parser.add_argument("--cases", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--bank", type=Path, help="write the bank here and run nothing")
    asked = parser.parse_args()
    parts = list(chunks(asked.seed, asked.cases))
    if asked.bank:
        write_bank([item for part in parts for item in items(part)], asked.bank)
        return 0
    if not asked.program:
        parser.error("give the path of the program, or --bank FILE")
    total, differing = 0, []
    with Pool(asked.jobs) as pool:
        for number, differ in pool.imap(star, [(asked.program, part) for part in parts]):
            total += number
            differing += differ
    for item, found in differing[:20]:
        print(f"found {sorted(found)}\n{json.dumps(item, ensure_ascii=False)}", file=sys.stderr)
    print(f"cases {total}, agreed {total - len(differing)}, differing {len(differing)}")
    return int(bool(differing))


if __name__ == "__main__":
    raise SystemExit(main())
