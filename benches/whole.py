"""The whole audit, program against script: items a second, processor time, peak memory and their ratio, as Markdown.

Banks of each size are made by `bank.py` from a seed. `keyassay audit --write csv` audits all of a bank; `chemist.py`, the
script that a chemist would write with RDKit, the same file or, of a large one, the first rows, and its time is scaled; the
table says so. Both must find exactly the faulty items, a tenth or with `--mix half` half of all, else nothing is printed. With `--rounds` the two take turns, the
middle of each column is printed, and below the table the ratio of each round. Needs PyPI `rdkit`.

    whole.py --sizes 10000,100000,1000000 --rounds 5 target/release/keyassay
    whole.py --sizes 1000000 --mix half --rounds 5 target/release/keyassay
"""

from __future__ import annotations

import argparse
import csv
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

import bank

HERE = Path(__file__).resolve().parent


class Run(NamedTuple):
    """What one process took."""

    seconds: float
    processor_seconds: float
    megabytes: float


def timed(command: list[str]) -> Run:
    """Runs a command to its end; memory is the peak of its largest process."""
    began = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    seconds = time.perf_counter() - began
    if os.waitstatus_to_exitcode(status):
        raise SystemExit(f"{' '.join(command)}: exit status {os.waitstatus_to_exitcode(status)}")
    return Run(seconds, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)


def keyassay(program: str, path: Path, jobs: int, items: int, mix: str) -> Run:
    """The program on the whole bank; its totals must be right."""
    with tempfile.TemporaryDirectory(dir=path.parent) as out:
        common = ["--quiet", "--fail-on", "never", "--jobs", str(jobs), "--out", out, str(path)]
        run = timed([program, "audit", "--write", "csv", *common])
        with open(Path(out, "audit.csv"), encoding="utf-8", newline="") as rows:
            faulty = {row["item"] for row in csv.DictReader(rows) if row["severity"] == "error"}
    agree("keyassay", len(faulty), items, mix)
    return run


def chemist(path: Path, jobs: int, items: int, mix: str) -> Run:
    """The script on the first items of the bank; its findings must be right."""
    with tempfile.TemporaryDirectory(dir=path.parent) as out:
        found = Path(out, "findings.csv")
        script = [sys.executable, str(HERE / "chemist.py"), str(path), "--out", str(found)]
        run = timed([*script, "--jobs", str(jobs), "--limit", str(items)])
        with open(found, encoding="utf-8", newline="") as rows:
            faulty = sum(row["finding"] != "omitted-species" for row in csv.DictReader(rows))
    agree("chemist.py", faulty, items, mix)
    return run


def agree(who: str, faulty: int, items: int, mix: str) -> None:
    """Stops where an audit is wrong: its speed would mean nothing."""
    expected = sum((items - place) // 20 + (items >= place) for place in bank.FAULTY[mix])
    if faulty != expected:
        raise SystemExit(f"{who}: {faulty} of {items} items faulty, {expected} are")


def middle(runs: list[Run]) -> Run:
    """The median of each column."""
    return Run(*(statistics.median(column) for column in zip(*runs, strict=True)))


def rows(program: str, folder: Path, items: int, asked: argparse.Namespace) -> tuple[str, list[float]]:
    """One size: a line of the table, and the ratio of each round."""
    path = folder / f"bank-{items}.csv"
    with open(path, "w", encoding="ascii") as out:
        bank.write(items, asked.seed, out, asked.mix)
    sample = min(items, asked.sample)
    rounds = [
        (keyassay(program, path, asked.jobs, items, asked.mix), chemist(path, asked.jobs, sample, asked.mix))
        for _ in range(asked.rounds)
    ]
    megabytes = path.stat().st_size / 1e6
    path.unlink()
    ratios = [(items / ours.seconds) / (sample / theirs.seconds) for ours, theirs in rounds]
    ours, theirs = (middle(list(runs)) for runs in zip(*rounds, strict=True))
    our_rate, their_rate = items / ours.seconds, sample / theirs.seconds
    scaled = f"{theirs.processor_seconds * items / sample:,.1f}{'' if sample == items else f' (scaled from {sample:,})'}"
    return (
        f"| {items:,} | {megabytes:,.0f} | {our_rate:,.0f} | {ours.processor_seconds:,.1f} | {ours.megabytes:,.0f} "
        f"| {their_rate:,.0f} | {scaled} | {theirs.megabytes:,.0f} "
        f"| {statistics.median(ratios):,.0f} "
        f"| {(theirs.processor_seconds / sample) / (ours.processor_seconds / items):,.0f} |"
    ), ratios


def main() -> int:
    """Prints the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("program", help="the keyassay program, built for release")
    parser.add_argument("--sizes", default="10000,100000,1000000", help="items, separated by commas")
    parser.add_argument("--sample", type=int, default=20_000, help="items that the script is timed on at most")
    parser.add_argument("--jobs", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--rounds", type=int, default=1, help="how often each is timed, one after the other")
    parser.add_argument("--mix", choices=bank.FAULTY, default="tenth", help="how many of the items are faulty")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--dir", type=Path, help="where the banks are made; 10,000,000 items take 3 GB")
    asked = parser.parse_args()
    print(f"Processes or threads of each: {asked.jobs}. Seconds are processor seconds, MB the peak of one process; the last two")
    print("columns divide items a second and processor seconds an item, the second less disturbed by other work.\n")
    print("| items | bank MB | keyassay items/s | seconds | MB | script items/s | seconds | MB | ratio | of seconds |")
    print("|---:|---:|---:|---:|---:|---:|---:|---:|---:|---:|")
    with tempfile.TemporaryDirectory(dir=asked.dir) as folder:
        of_rounds = []
        for size in asked.sizes.split(","):
            line, ratios = rows(asked.program, Path(folder), int(size), asked)
            print(line, flush=True)
            of_rounds.append(f"{int(size):,} items: " + ", ".join(f"{ratio:,.0f}" for ratio in ratios))
    if asked.rounds > 1:
        print("\nRatios of the rounds:", *of_rounds, sep="\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
