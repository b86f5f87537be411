"""What one audit must keep to, measured: threads, reading alone, one item cold, the worst items, growth. Prints Markdown.

    limits.py --dir /tmp target/release/keyassay benches/measure/target/release/tokenise

Each pair of figures comes from runs in turn, five times, the least time of each; a machine that does other work too shows in the
wall time, less in the processor time.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from pathlib import Path

import bank
from whole import Run, timed

C60 = (
    "c12c3c4c5c1c6c7c8c2c9c1c3c2c3c4c4c%10c5c5c6c6c7c7c%11c8c9c8c9c1c2c1c2c3c4c3c4c%10c5c5c6c6c7c7c%11c8c8c9c1c1c2c3c2c4c5c6c3c7c8c1c23"
)
AGAIN = 5


def tree(depth: int) -> str:
    """A chain that branches in two, so many times."""
    return f"C({tree(depth - 1)}){tree(depth - 1)}" if depth else "C"


def atoms(smiles: str) -> int:
    """Atoms of a SMILES without brackets."""
    return sum(letter in "CcNO" for letter in smiles)


def worst() -> dict[str, tuple[str, str, str]]:
    """Start, arrows, answer of the worst items: symmetric, without labels, wrong."""
    dendrimer = f"N({tree(6)})({tree(6)}){tree(6)}"
    big = f"N({tree(7)}){tree(7)}"
    ethanols = ".".join(["CCO"] * 40)
    return {
        "C60": (f"{C60}.[OH-]", "61 -> 61-1; 1-2 -> 2", f"{C60}.[O-]"),
        "C60, its charge lost": (f"{C60}.[OH-]", "61 -> 61-1; 1-2 -> 2", f"{C60}.O"),
        f"dendrimer of {atoms(dendrimer)} atoms": (f"{dendrimer}.[H+]", f"1 -> 1-{atoms(dendrimer) + 1}", f"{dendrimer}.[H]"),
        f"dendrimer of {atoms(big)} atoms": (f"{big}.[H+]", f"1 -> 1-{atoms(big) + 1}", big.replace("C(C)C", "C(C)O", 1) + ".[H+]"),
        "40 equal species": (f"{ethanols}.[OH-].CBr", "121 -> 121-122; 122-123 -> 123", f"{ethanols}.C[OH+]C.[Br-]".replace("CCO", "CCN", 1)),
    }


def audit(program: str, path: Path, jobs: int, out: Path) -> list[str]:
    """The command of an audit that writes CSV."""
    return [program, "audit", "--write", "csv", "--quiet", "--fail-on", "never", "--jobs", str(jobs), "--out", str(out), str(path)]


def least(command: list[str], again: int = AGAIN) -> Run:
    """The least of several runs, by wall time and by processor time."""
    runs = [timed(command) for _ in range(again)]
    return Run(min(r.seconds for r in runs), min(r.processor_seconds for r in runs), max(r.megabytes for r in runs))


def made(path: Path, items: int) -> Path:
    """The mixed bank of a size."""
    with open(path, "w", encoding="ascii") as out:
        bank.write(items, 1, out)
    return path


def main() -> int:
    """Measures and prints."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("program")
    parser.add_argument("tokenise")
    parser.add_argument("--dir", type=Path)
    parser.add_argument("--items", type=int, default=1_000_000)
    asked = parser.parse_args()
    program = asked.program
    print(f"{os.cpu_count()} cores\n\n| what | wall s | processor s | MB |\n|---|---:|---:|---:|")

    def row(what: str, run: Run) -> None:
        print(f"| {what} | {run.seconds:,.4f} | {run.processor_seconds:,.4f} | {run.megabytes:,.0f} |", flush=True)

    with tempfile.TemporaryDirectory(dir=asked.dir) as folder:
        place, out = Path(folder), Path(folder, "out")
        path = made(place / "mixed.csv", asked.items)
        one = two = read = Run(1e9, 1e9, 0)
        for _ in range(3):
            # In turn, so that other work meets all alike.
            one, two = min(one, timed(audit(program, path, 1, out))), min(two, timed(audit(program, path, 2, out)))
            read = min(read, timed([asked.tokenise, str(path)]))
        row(f"{asked.items:,} items, 1 thread", one)
        row(f"{asked.items:,} items, 2 threads", two)
        row("read with the csv crate and tokenised, 1 thread", read)
        path.unlink()
        item = place / "item.csv"
        for name, (start, arrows, answer) in worst().items():
            item.write_text(f"id,start,arrows,answer\nq,{start},{arrows},{answer}\n", encoding="ascii")
            row(f"one item, cold: {name}", least(audit(program, item, 1, out)))
        item.write_text("id,start,arrows,answer\nq,[OH-:1].[CH3:2][Br:3],1 -> 1-2; 2-3 -> 3,[CH3:2][OH:1].[Br-:3]\n", encoding="ascii")
        row("one item, cold: hydroxide and bromomethane", least(audit(program, item, 1, out), 20))
        many = place / "many.csv"
        with open(many, "w", encoding="ascii") as rows:
            rows.write("id,start,arrows,answer\n")
            kinds = list(worst().values())
            for at in range(10_000):
                rows.write(f"q{at}," + ",".join(kinds[at % len(kinds)]) + "\n")
        row("10,000 worst items, 2 threads", timed(audit(program, many, 2, out)))
    print(f"\n1 to 2 threads: {one.seconds / two.seconds:.2f} times. 1 thread to reading: {one.seconds / read.seconds:.1f} times; ", end="")
    print(f"2 threads to reading: {two.seconds / read.seconds:.1f} times.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
