#!/usr/bin/env python3
"""Calls of the system that fail, one after the other, under every command that writes: audit, shards, gather, amend, convert.

    python3 tests/trials/faults.py PROGRAM [--most 60]

`faults.c` beside this file makes reads and writes short or interrupted, and reads, writes, fsync, rename, mkdir and the creation of files fail.
Of each command and each kind at most so many calls fail, spread over the run, one a run. After each: what stands under a report's name is
what an undisturbed run writes, what stood there before, or nothing; and where it is not what an undisturbed run writes, the program ends
with status 2 and a sentence, or says which bank it could not read. Needs Linux, a C compiler and Python.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

KINDS = [
    "short-read", "short-write", "eintr-read", "eintr-write", "eio-read", "eio-write", "enospc-write", "fsync", "rename", "create", "mkdir",
]
# Faults of one moment, after which everything is as without them.
HARMLESS = {"short-read", "short-write", "eintr-read", "eintr-write"}
SOUND = "[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][O-:3]"
FAULTY = "[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][O:3]"


@dataclass
class Command:
    """A command, what it writes, and how the folder is made ready for it."""

    name: str
    arguments: list[str]
    written: list[str]
    status: int


COMMANDS = [
    Command("audit", ["audit", "bank.csv", "--out", "out", "--write", "csv,json,sarif,junit"], ["out"], 1),
    Command("audit as a workbook", ["audit", "bank.csv", "--out", "out", "--write", "xlsx"], ["out"], 1),
    Command("audit with its page", ["audit", "bank.csv", "--out", "out", "--write", "html"], ["out"], 1),
    Command("shard", ["audit", "bank.csv", "--write", "csv,json", "--shard", "1/2", "--out", "new-parts"], ["new-parts"], 0),
    Command("gather", ["gather", "parts", "--out", "out", "--write", "csv,json"], ["out"], 1),
    Command("amend", ["amend", "bank.csv", "--with", "first/corrections.csv", "--out", "amended.csv"], ["amended.csv"], 0),
    Command("amend a workbook", ["amend", "book.xlsx", "--with", "book/corrections.csv", "--out", "amended.xlsx"], ["amended.xlsx"], 0),
    *(
        Command(f"convert to {to}", ["convert", "bank.csv", "--to", to, "--out", f"bank.{ending}"], [f"bank.{ending}"], 0)
        for to, ending in [("jsonl", "jsonl"), ("cml", "cml"), ("qti", "zip"), ("xlsx", "xlsx"), ("ods", "ods")]
    ),
]


class Trial:
    def __init__(self, program: Path, folder: Path, most: int) -> None:
        self.program, self.folder, self.most = program, folder, most
        self.library = folder / "faults.so"
        source = Path(__file__).with_name("faults.c")
        compiler = os.environ.get("CC", "cc")
        subprocess.run([compiler, "-shared", "-fPIC", "-O1", "-o", self.library, source, "-ldl"], check=True)
        self.work = folder / "work"
        self.wrong: list[str] = []
        self.points = self.faults = 0

    def run(self, arguments: list[str], **environment: str) -> subprocess.CompletedProcess[str]:
        own = {**os.environ, **environment, "RAYON_NUM_THREADS": "1"}
        command = [str(self.program), *arguments]
        return subprocess.run(command, cwd=self.work, env=own, capture_output=True, text=True, errors="replace", timeout=120)

    def begin(self) -> None:
        """A bank with faults, an audit of it, the shards of another one, and what stood there before."""
        self.work.mkdir()
        rows = ["id,start,arrows,answer\n"]
        for at in range(300):
            start, arrows, answer = (FAULTY if at % 37 == 3 else SOUND).split(",")
            more = "." + "C" * (at % 40 + 1) + "O" * (at // 40 % 2) + "N" * (at // 80)
            rows.append(f"q{at},{start}{more},{arrows},{answer}{more}\n")
        (self.work / "bank.csv").write_text("".join(rows))
        self.run(["audit", "bank.csv", "--out", "first", "--write", "csv,json"])
        self.run(["convert", "bank.csv", "--to", "xlsx", "--out", "book.xlsx"])
        self.run(["audit", "book.xlsx", "--out", "book", "--write", "csv"])
        for shard in ("1/2", "2/2"):
            self.run(["audit", "bank.csv", "--out", "parts", "--write", "csv,json", "--shard", shard])

    def before(self, command: Command) -> None:
        """Something of an earlier day stands where the command writes."""
        for name in command.written:
            place = self.work / name
            shutil.rmtree(place, ignore_errors=True)
            place.unlink(missing_ok=True)
            if "." in name:
                place.write_text("of an earlier day\n")
            else:
                place.mkdir()
                for report in ("audit.csv", "audit.json", "audit.html", "audit.xlsx", "shard-0001-of-0002.jsonl", "corrections.csv"):
                    (place / report).write_text("of an earlier day\n")

    def after(self, command: Command) -> dict[str, bytes]:
        """What stands there, without what tells the time."""
        found: dict[str, bytes] = {}
        for name in command.written:
            place = self.work / name
            files = [place] if place.is_file() else sorted(place.rglob("*"))
            for file in files:
                if file.is_file() and not any(part.endswith(".tmp") for part in file.parts):
                    found[str(file.relative_to(self.work))] = self.timeless(file)
        return found

    def timeless(self, file: Path) -> bytes:
        data = file.read_bytes()
        if file.suffix in (".html", ".xml"):
            lines = data.split(b"\n")
            return b"\n".join(line for line in lines if b'class="meta"' not in line and b"timestamp" not in line)
        return data

    def of(self, command: Command) -> None:
        self.before(command)
        old = self.after(command)
        done = self.run(command.arguments)
        new = self.after(command)
        if done.returncode != command.status:
            self.wrong.append(f"{command.name}: undisturbed, status {done.returncode}: {done.stderr[-300:]}")
            return
        for kind in KINDS:
            count_file = self.folder / "count"
            count_file.unlink(missing_ok=True)
            # Far behind the last call: nothing fails, everything is counted.
            self.before(command)
            self.run(command.arguments, **self.fault(kind, 10**9), FAULT_COUNT=str(count_file))
            count = int(count_file.read_text()) if count_file.exists() else 0
            self.points += count
            step = max(1, count // self.most)
            places = list(range(1, count + 1, step))
            if count and count not in places:
                places.append(count)
            if kind in HARMLESS and count:
                places.append(0)
            for at in places:
                self.faults += 1
                self.one(command, kind, at, old, new)

    def fault(self, kind: str, at: int) -> dict[str, str]:
        return {
            "LD_PRELOAD": str(self.library), "FAULT_KIND": kind, "FAULT_AT": str(at), "FAULT_UNDER": str(self.work),
        }

    def one(self, command: Command, kind: str, at: int, old: dict[str, bytes], new: dict[str, bytes]) -> None:
        self.before(command)
        what = f"{command.name}, {kind} at call {at}"
        try:
            done = self.run(command.arguments, **self.fault(kind, at))
        except subprocess.TimeoutExpired:
            self.wrong.append(f"{what}: no end")
            return
        found = self.after(command)
        said = done.stdout + done.stderr
        if done.returncode not in (0, 1, 2) or "panicked" in said:
            self.wrong.append(f"{what}: status {done.returncode}: {said[-300:]}")
            return
        if done.returncode == 2 and not done.stderr.strip():
            self.wrong.append(f"{what}: status 2 without a word")
        if kind in HARMLESS and (done.returncode != command.status or found != new):
            self.wrong.append(f"{what}: status {done.returncode}, not as undisturbed: {said[-300:]}")
            return
        if found == new and done.returncode == command.status:
            return
        if done.returncode != 2:
            # A bank that could not be read to its end is told, and its reports are of what was read.
            if not (kind == "eio-read" and done.returncode == 1 and "read" in said):
                names = [name for name in {*found, *new} if found.get(name) != new.get(name)]
                self.wrong.append(f"{what}: status {done.returncode}, others: {names}: {said[-300:]}")
            return
        if kind == "eio-read" and "could be read" in said:
            # The reports say of each bank that it was not read.
            return
        for name, data in found.items():
            # Beside a report that could not be replaced.
            own = name.replace(".new.", ".")
            if data not in (old.get(name), new.get(own)):
                self.wrong.append(f"{what}: {name} is neither old nor new ({len(data)} bytes)")
        for name in old:
            if name not in found:
                self.wrong.append(f"{what}: {name} of the earlier day is lost")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("program", type=Path)
    parser.add_argument("--most", type=int, default=60, help="calls of one kind that fail, for each command")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        trial = Trial(arguments.program.resolve(), Path(folder).resolve(), arguments.most)
        trial.begin()
        for command in COMMANDS:
            trial.of(command)
            print(f"{command.name}: {trial.faults} faults so far, {len(trial.wrong)} wrong", flush=True)
    print(f"{trial.points} points, {trial.faults} faults, {len(trial.wrong)} wrong")
    for line in trial.wrong[:40]:
        print(f"  {line}")
    return 1 if trial.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
