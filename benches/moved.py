"""What `compare` takes, held against only reading both banks and against two audits: the same bank, the same as JSON Lines, all items rewritten.

    moved.py [--items 1000000] [--dir /tmp] target/release/keyassay TOKENISE DRAWINGS

Both are of `benches/measure`, read a table with the csv crate and use one thread: `tokenise` counts the tokens of its SMILES, which is
what telling equal texts needs at least; `drawings` reads them into drawings and the arrows into arrows, which telling equal contents needs.
Every item is rewritten with other labels, its species and its arrows in another order. Memory is that of the whole process, divided by
the items of both banks. Wall time means something on an idle machine only.
"""

from __future__ import annotations

import argparse
import re
import subprocess
import tempfile
from pathlib import Path

import bank
from whole import Run, timed

CLASS = re.compile(r":(\d+)\]")
NAME = re.compile(r"(?<![\dh])\d+")
LABELS = {str(own): str((own * 37 + 11) % 997 + 1) for own in range(997)}
ROUNDS = 3


def rewritten(row: str) -> str:
    """The same item under other labels and in another order."""
    own, task, start, arrows, answer = row.rstrip("\n").split(",")
    start, answer = (".".join(reversed(CLASS.sub(lambda label: f":{LABELS[label[1]]}]", text).split("."))) for text in (start, answer))
    arrows = NAME.sub(lambda label: LABELS[label[0]], arrows)
    # A hydrogen goes by the arrow that names it first where an atom has several.
    arrows = arrows if "h" in arrows else "; ".join(reversed(arrows.split("; ")))
    return f"{own},{task},{start},{arrows},{answer}\n"


def least(command: list[str]) -> Run:
    """The least of some runs."""
    runs = [timed(command) for _ in range(ROUNDS)]
    return Run(min(run.seconds for run in runs), min(run.processor_seconds for run in runs), max(run.megabytes for run in runs))


def main() -> None:
    """Measures and prints Markdown."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("program")
    parser.add_argument("tokenise")
    parser.add_argument("drawings")
    parser.add_argument("--items", type=int, default=1_000_000)
    parser.add_argument("--dir", type=Path)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=asked.dir) as folder:
        place, out = Path(folder), str(Path(folder, "out"))
        old, new, lines = place / "old.csv", place / "new.csv", place / "old.jsonl"
        with old.open("w") as before, new.open("w") as after:
            for file in (before, after):
                file.write(bank.HEADER)
            for row in bank.items(asked.items, 1):
                before.write(row)
                after.write(rewritten(row))
        subprocess.run([asked.program, "convert", str(old), "--to", "jsonl", "--out", str(lines)], check=True, capture_output=True)
        tokens, drawings = ([least([reader, str(path)]) for path in (old, new)] for reader in (asked.tokenise, asked.drawings))
        audits = [least([asked.program, "audit", "--write", "csv", "--quiet", "--fail-on", "never", "--out", out, str(path)]) for path in (old, new)]
        both = [sum(run.processor_seconds for run in runs) for runs in (tokens, drawings, audits)]
        print("Counting the tokens of both takes {:.2f} s of processor, reading both into drawings {:.2f} s, auditing both {:.2f} s.\n".format(*both))
        print("| compared with | wall s | processor s | tokens of both | drawings of both | audits of both | bytes an item |\n|---|---:|---:|---:|---:|---:|---:|")
        for name, other in (("itself", old), ("itself as JSON Lines", lines), ("itself rewritten", new)):
            run = least([asked.program, "compare", str(old), "--with", str(other), "--quiet", "--out", out])
            times = " | ".join(f"{run.processor_seconds / whole:.2f}" for whole in both)
            size = run.megabytes * 1e6 / (2 * asked.items)
            print(f"| {name} | {run.seconds:.2f} | {run.processor_seconds:.2f} | {times} | {size:.0f} |", flush=True)


if __name__ == "__main__":
    main()
