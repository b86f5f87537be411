#!/usr/bin/env python3
"""The program as Windows runs it: paths with drives and backslashes, line ends, names that differ in case, reports that are open.

    python3 tests/windows/trial.py PROGRAM.exe HOLD.exe [RUNNER]

HOLD is built from `hold.c`. RUNNER is a command that runs programs of Windows on another system (`wine64`); on Windows there is none.
Each check prints what it found wrong; the status is 1 if anything was.
"""

from __future__ import annotations

import csv
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "trials"))
from tell import run_all  # noqa: E402

SOUND = "[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][O-:3]"
FAULTY = "[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][O:3]"
BANK = f"id,start,arrows,answer\r\nquay,{SOUND}\r\nbuoy,{FAULTY}\r\n,{FAULTY.replace('CH2-:1', 'CH-:1')}\r\n"


class Trial:
    """The program, a folder to work in, and what went wrong."""

    def __init__(self, program: str, hold: str, runner: list[str], folder: Path) -> None:
        self.program, self.hold, self.runner, self.folder = program, hold, runner, folder
        self.wrong: list[str] = []

    def run(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        command = [*self.runner, self.program, *arguments]
        return subprocess.run(command, cwd=self.folder, capture_output=True, text=True, encoding="utf-8", errors="replace", timeout=300)

    def check(self, holds: bool, what: str) -> None:
        if not holds:
            self.wrong.append(what)

    def whole(self, path: Path) -> str:
        """A path with its drive and backslashes; other systems stand under `Z:` for their runner."""
        text = str(path.resolve())
        return text if os.name == "nt" else "Z:" + text.replace("/", "\\")

    def rows(self, out: str) -> list[dict[str, str]]:
        with (self.folder / out / "audit.csv").open(encoding="utf-8", newline="") as file:
            return list(csv.DictReader(file))


def demonstration(trial: Trial) -> None:
    """Tables are the bytes that other systems write."""
    result = trial.run("audit", "--out", "demonstration")
    trial.check(result.returncode == 0, f"demonstration: {result.returncode} {result.stderr[-300:]!r}")
    for name in ("audit.csv", "audit.json", "corrections.csv"):
        published = (ROOT / "reports" / "demonstration" / name).read_bytes()
        trial.check((trial.folder / "demonstration" / name).read_bytes() == published, f"demonstration: {name} has other bytes")


def paths(trial: Trial) -> None:
    """Banks are named with `/`, whichever way their path was given, and an item without id so, too."""
    bank = trial.folder / "banks" / "week 1.csv"
    whole = trial.whole(bank)
    for given, named in [("banks\\week 1.csv", "banks/week 1.csv"), ("banks/week 1.csv", "banks/week 1.csv"), (whole, whole.replace("\\", "/"))]:
        result = trial.run("audit", given, "--out", "paths", "--write", "csv,json,sarif")
        rows = trial.rows("paths")
        files = {row["file"] for row in rows}
        items = {row["item"] for row in rows}
        trial.check(result.returncode == 1 and files == {named}, f"paths: {given}: {result.returncode} {files} {result.stderr[-300:]!r}")
        trial.check(items == {"buoy", f"{named}:4"}, f"paths: {given}: {items}")
        sarif = (trial.folder / "paths" / "audit.sarif").read_text(encoding="utf-8")
        uris = {own["physicalLocation"]["artifactLocation"]["uri"] for run in json.loads(sarif)["runs"] for result in run["results"] for own in result["locations"]}
        trial.check(uris == {"banks/week%201.csv"}, f"paths: {given}: SARIF names {uris}")


def profile(trial: Trial) -> None:
    """Patterns and paths of a profile go from its folder; names that differ in case alone are the system's business."""
    term = trial.folder / "term"
    (term / "lists").mkdir(parents=True)
    (term / "Drafts").mkdir()
    (term / "week.csv").write_bytes(BANK.encode())
    (term / "Drafts" / "old.csv").write_bytes(BANK.encode())
    (term / "latin.csv").write_bytes(f"id,start,arrows,answer,prompt\r\npier,{SOUND},caf\xe9\r\n".encode("latin-1"))
    (term / "lists" / "known.csv").write_text("item,finding,reason,until\nbuoy,mismatched-product,old,\nbuoy,unbalanced-charge,old,\nterm/week.csv:4,mismatched-product,old,\nterm/week.csv:4,unbalanced-charge,old,\nterm/week.csv:4,unbalanced-atoms,old,\n")
    (term / "keyassay.toml").write_text('known = "lists/known.csv"\nfiles = ["*.csv", "!Drafts/*", "!lists/*"]\n[encodings]\n"latin.csv" = "latin-1"\n')
    for given in ("term", "term\\", trial.whole(term)):
        result = trial.run("audit", given, "--out", "profile")
        told = json.loads((trial.folder / "profile" / "audit.json").read_text(encoding="utf-8"))["totals"]
        trial.check(told["items"] == 4, f"profile: {given}: {told['items']} items: {result.stdout!r} {result.stderr!r}")
        at_home = given != trial.whole(term)
        trial.check((result.returncode == 0) == at_home, f"profile: {given}: known findings: {result.returncode} {result.stdout!r} {result.stderr!r}")


def corrected(trial: Trial) -> None:
    """A bank with line ends of Windows keeps them, in its place, and corrections fit it by either spelling of its path."""
    bank = trial.folder / "banks" / "week 1.csv"
    for given in ("banks\\week 1.csv", "banks/week 1.csv"):
        bank.write_bytes(BANK.encode())
        trial.run("audit", "banks\\week 1.csv", "--out", "corrected")
        result = trial.run("amend", given, "--with", "corrected\\corrections.csv", "--in-place")
        now = bank.read_bytes().decode()
        fits = now.count("\r\n") == BANK.count("\r\n") == now.count("\n") and now != BANK and "[O-:3]" in now.splitlines()[2]
        trial.check(result.returncode == 0 and fits, f"corrected: {given}: {result.stdout!r} {result.stderr!r}")
    bank.write_bytes(BANK.encode())


def open_reports(trial: Trial) -> None:
    """A report that somebody has open is kept, the new one stands beside it, and the program says so."""
    trial.run("audit", "banks/week 1.csv", "--out", "open")
    folder = trial.folder / "open"
    held = folder / "audit.csv"
    before = held.read_bytes()
    (trial.folder / "banks" / "week 2.csv").write_bytes(BANK.replace("buoy", "gull").encode())
    holder = subprocess.Popen([*trial.runner, trial.hold, "open/audit.csv"], cwd=trial.folder, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    assert holder.stdin and holder.stdout
    ready = holder.stdout.readline().strip()
    trial.check(ready == "held", f"open: the file could not be held: {ready!r}")
    result = trial.run("audit", "banks/week 2.csv", "--out", "open")
    holder.stdin.close()
    holder.wait(timeout=60)
    new = folder / "audit.new.csv"
    trial.check(result.returncode == 2 and "audit.csv is open" in result.stderr, f"open: {result.returncode} {result.stderr!r}")
    trial.check(held.read_bytes() == before, "open: the report that was open has changed")
    trial.check(new.exists() and b"gull" in new.read_bytes(), "open: the new report is not beside it")
    trial.check(b"gull" in (folder / "audit.json").read_bytes(), "open: the other reports are old")
    left = [path.name for path in folder.iterdir() if path.name.endswith(".tmp")]
    trial.check(not left, f"open: {left} left over")


def drawings(trial: Trial) -> None:
    """Items whose ids differ in case alone, or are names that Windows keeps for itself, have files of their own."""
    ids = ["Tide", "tide", "nul", "a:b", "end."]
    (trial.folder / "ids.csv").write_text("id,start,arrows,answer\n" + "".join(f"{own},{SOUND}\n" for own in ids))
    result = trial.run("draw", "--bank", "ids.csv", "--out", "pictures")
    names = sorted(path.name for path in (trial.folder / "pictures").glob("*.svg"))
    trial.check(len({name.lower() for name in names}) == len(ids), f"drawings: {names} {result.stderr!r}")


def main() -> int:
    program, hold, *runner = sys.argv[1:]
    with tempfile.TemporaryDirectory(prefix="windows-") as folder:
        trial = Trial(str(Path(program).resolve()), str(Path(hold).resolve()), runner, Path(folder))
        (trial.folder / "banks").mkdir()
        (trial.folder / "banks" / "week 1.csv").write_bytes(BANK.encode())
        failed = run_all(trial, demonstration, paths, profile, corrected, open_reports, drawings)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
