#!/usr/bin/env python3
"""Audits under bad luck: killed, interrupted, out of disk, out of memory, with files that change, block or have no name.

    python3 tests/trials/trials.py PROGRAM [--kills 200]

Each trial prints what it tried and what it found wrong; the status is 1 if anything was. Trials that need root (small disks),
strace or faketime are left out where there is none, and the output says so. Needs Python and nothing else.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import random
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from tell import run_all

REPORTS = ["audit.csv", "audit.json", "audit.html", "corrections.csv", "corrections.files.csv"]
SOUND = "[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][O-:3]"
FAULTY = "[CH2-:1][CH:2]=[O:3],1 -> 1-2; 2-3 -> 3,[CH2:1]=[CH:2][O:3]"


class Trials:
    """A program under test, a folder to work in, and what went wrong."""

    def __init__(self, program: Path, folder: Path, kills: int) -> None:
        self.program, self.folder, self.kills = program, folder, kills
        self.random = random.Random(20261125)
        self.wrong: list[str] = []

    def bank(self, name: str, items: int, mark: str = "q") -> Path:
        """A bank in which every seventh item is faulty and no two ask the same."""
        path = self.folder / name
        with path.open("w") as out:
            out.write("id,start,arrows,answer\n")
            for at in range(items):
                start, arrows, answer = (FAULTY if at % 7 == 3 else SOUND).split(",")
                chains = at % 12, at // 12 % 12, at // 144 % 12, at // 1728
                spectators = "".join(f".{head}{'C' * long}" for head, long in zip("NOSC", chains, strict=True))
                out.write(f"{mark}{at},{start}{spectators},{arrows},{answer}{spectators}\n")
        return path

    def audit(self, *arguments: object, **options: object) -> subprocess.CompletedProcess[str]:
        return self.run("audit", *arguments, **options)

    def run(self, *arguments: object, **options: object) -> subprocess.CompletedProcess[str]:
        command = [str(self.program), *map(str, arguments)]
        return subprocess.run(command, capture_output=True, text=True, errors="replace", timeout=300, **options)

    def start(self, *arguments: object) -> subprocess.Popen[bytes]:
        command = [str(self.program), "audit", *map(str, arguments)]
        return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    def check(self, holds: bool, what: str) -> None:
        if not holds:
            self.wrong.append(what)


def whole(folder: Path) -> list[str]:
    """What is wrong with the reports of a folder, each taken alone."""
    wrong = []
    for name in REPORTS:
        path = folder / name
        if not path.exists():
            continue
        data = path.read_bytes()
        try:
            if name.endswith(".json"):
                json.loads(data)
            elif name.endswith(".csv"):
                rows = list(csv.reader(data.decode().splitlines(keepends=True), strict=True))
                if not data.endswith(b"\n") or any(len(row) != len(rows[0]) for row in rows):
                    wrong.append(f"{name} is cut off")
            elif not data.endswith(b"</html>\n"):
                wrong.append(f"{name} is cut off")
        except (ValueError, csv.Error) as error:
            wrong.append(f"{name}: {error}")
    return wrong


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir()) if path.is_file()}


def left_over(folder: Path) -> list[str]:
    return [path.name for path in folder.iterdir() if path.name.endswith(".tmp")]


def items_of(folder: Path) -> object:
    return json.loads((folder / "audit.json").read_text())["totals"]["items"]


def killed(trials: Trials) -> str:
    """Killed at random moments: every report is the old one or the new one, never less."""
    old, new = trials.bank("old.csv", 300, "o"), trials.bank("new.csv", 12000, "n")
    out = trials.folder / "killed"
    trials.audit(old, "--out", out)
    before = (out / "audit.csv").read_bytes()
    begun = time.monotonic()
    trials.audit(new, "--out", trials.folder / "whole")
    takes = time.monotonic() - begun
    after = (trials.folder / "whole" / "audit.csv").read_bytes()
    olds, news = items_of(out), items_of(trials.folder / "whole")
    survived = mixed = 0
    for _ in range(trials.kills):
        process = trials.start(new, "--out", out)
        time.sleep(trials.random.uniform(0, takes * 1.1))
        process.send_signal(signal.SIGKILL)
        survived += process.wait() >= 0
        trials.check((out / "audit.csv").read_bytes() in (before, after), "killed: audit.csv is neither old nor new")
        for wrong in whole(out):
            trials.check(False, f"killed: {wrong}")
        is_new = (out / "audit.csv").read_bytes() == after
        trials.check(items_of(out) in (olds, news), "killed: audit.json is neither old nor new")
        mixed += items_of(out) != (news if is_new else olds)
    trials.audit(old, "--out", out)
    trials.check((out / "audit.csv").read_bytes() == before, "killed: the next audit is not right")
    trials.check(left_over(out) == [], f"killed: the next audit leaves {left_over(out)}")
    if trials.wrong:
        return "lost reports"
    # Reports get their names one right after the other: a kill may come in between, and the next audit mends it.
    return f"{trials.kills} kills, {survived} after the end, reports lost: 0, of two audits: {mixed}"


def interrupted(trials: Trials) -> str:
    """An interrupt or a request to end leaves partial reports that say so, and status 130."""
    bank = trials.bank("long.csv", 60000, "l")
    partial = 0
    for at in range(12):
        out = trials.folder / f"interrupted-{at}"
        trials.audit(trials.folder / "old.csv", "--out", out)
        before = contents(out)
        process = trials.start(bank, "--out", out, "--jobs", 1)
        time.sleep(trials.random.uniform(0.05, 0.6))
        asked = (signal.SIGINT, signal.SIGTERM)[at % 2]
        process.send_signal(asked)
        status = process.wait(timeout=120)
        if status == 130 and (out / "partial").is_dir():
            partial += 1
            trials.check(contents(out) == before, "interrupted: the whole audit before was touched")
            told = json.loads((out / "partial" / "audit.json").read_text())
            trials.check(told.get("partial") is True, "interrupted: audit.json does not say that it is partial")
            counts = told["totals"]
            parts = sum(counts[name] for name in ("sound", "faulty", "undecided", "unreadable"))
            trials.check(counts["items"] == parts < 60000, "interrupted: the counts do not add up")
            trials.check("partial results" in (out / "partial" / "audit.html").read_text(), "interrupted: the page")
        else:
            trials.check(status in (1, 130, -asked), f"interrupted: status {status}")
        trials.check(left_over(out) == [] or status < 0, f"interrupted: it leaves {left_over(out)}")
    trials.check(partial > 0, "interrupted: no trial met a running audit")
    return f"12 interrupts, {partial} partial reports"


@contextmanager
def small_disk(folder: Path, kilobytes: int) -> Iterator[Path]:
    folder.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", folder], check=True)
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", folder], check=True)


def disk_full(trials: Trials) -> str:
    """A full disk: status 2, the audit before is as it was, nothing is left over."""
    if os.geteuid() != 0 or subprocess.run(["mount"], capture_output=True).returncode != 0:
        return "left out: needs root"
    full = 0
    for at, kilobytes in enumerate([200, 300, 420, 560, 700, 900, 1200, 1600, 2400, 4000, 16000, 64000]):
        try:
            with small_disk(trials.folder / f"disk-{at}", kilobytes) as disk:
                trials.audit(trials.folder / "old.csv", "--out", disk, "--write", "csv")
                before = contents(disk)
                result = trials.audit(trials.folder / "new.csv", "--out", disk, "--write", "csv,html,json,xlsx")
                if result.returncode == 2:
                    full += 1
                    trials.check("cannot" in result.stderr and str(disk) in result.stderr, f"disk: {result.stderr!r}")
                    trials.check(contents(disk) == before, f"disk of {kilobytes} kB: reports changed")
                else:
                    trials.check(result.returncode == 1 and whole(disk) == [], f"disk of {kilobytes} kB: {whole(disk)}")
                trials.check(left_over(disk) == [], f"disk of {kilobytes} kB: {left_over(disk)} left over")
        except subprocess.CalledProcessError:
            return "left out: no disk can be mounted here"
    trials.check(full > 2, "disk: no disk was full")
    return f"12 disks, {full} full, reports lost: 0"


def places(trials: Trials) -> str:
    """Folders in the way, folders that cannot be made, a disk that cannot be written."""
    out = trials.folder / "in-the-way"
    (out / "audit.json").mkdir(parents=True)
    (out / "audit.csv").write_text("mine\n")
    result = trials.audit(trials.folder / "old.csv", "--out", out)
    trials.check(result.returncode == 2 and "audit.json" in result.stderr, f"a folder in the way: {result.stderr!r}")
    trials.check((out / "audit.csv").read_text() == "mine\n", "a folder in the way: another report was replaced")
    trials.check(left_over(out) == [], "a folder in the way: something is left over")
    result = trials.audit(trials.folder / "old.csv", "--out", trials.folder / "old.csv")
    trials.check(result.returncode == 2 and "old.csv" in result.stderr, f"a file for a folder: {result.stderr!r}")
    result = trials.audit(trials.folder / "old.csv", "--out", "/proc/keyassay-reports")
    trials.check(result.returncode == 2, "a folder that cannot be made")
    result = trials.audit(trials.folder / "is-not-there.csv", "--out", trials.folder / "none")
    trials.check(result.returncode == 2 and "no such file" in result.stderr, f"no such file: {result.stderr!r}")
    pipe = trials.folder / "pipe-in-the-way"
    os.mkfifo(pipe)
    result = trials.audit(trials.folder / "old.csv", "--out", pipe)
    trials.check(result.returncode == 2 and pipe.name in result.stderr, f"a pipe for a folder: {result.stderr!r}")
    name = os.fsencode(trials.folder) + b"/r\xe9sultats"
    command = [os.fsencode(trials.program), b"audit", os.fsencode(trials.folder / "old.csv"), b"--out", name, b"--quiet"]
    status = subprocess.run(command, capture_output=True, check=False).returncode
    trials.check(status == 1 and os.path.exists(name + b"/audit.html"), f"a folder whose name is no UTF-8: status {status}")
    return "6 places"


def read_only(trials: Trials) -> str:
    """A disk that cannot be written any more: status 2, which says where, and everything on it is as it was."""
    if os.geteuid() != 0:
        return "left out: needs root"
    try:
        with small_disk(trials.folder / "read-only", 4000) as disk:
            trials.audit(trials.folder / "old.csv", "--out", disk)
            shutil.copy(trials.folder / "old.csv", disk / "bank.csv")
            before = contents(disk)
            subprocess.run(["mount", "-o", "remount,ro", disk], check=True)
            commands = [
                ["audit", trials.folder / "new.csv", "--out", disk],
                ["audit", disk / "bank.csv", "--out", disk / "deeper"],
                ["convert", disk / "bank.csv", "--to", "jsonl", "--out", disk / "bank.jsonl"],
                ["amend", disk / "bank.csv", "--with", disk / "corrections.csv", "--in-place", "--unchecked"],
                ["draw", "CC", "--out", disk / "c.svg"],
                ["extras", "--out", disk / "extras"],
            ]
            for command in commands:
                result = trials.run(*command)
                told = result.returncode == 2 and str(disk) in result.stderr
                trials.check(told, f"read-only: {command[0]}: status {result.returncode} {result.stderr!r}")
                trials.check(contents(disk) == before, f"read-only: {command[0]} changed something")
            return f"{len(commands)} commands"
    except subprocess.CalledProcessError:
        return "left out: no disk can be mounted here"


def rewritten(trials: Trials) -> str:
    """A bank that is amended in its place is the old one or the new one, wherever the program is killed; a full disk keeps it."""
    bank = trials.bank("rewritten.csv", 3000, "r")
    trials.audit(bank, "--out", trials.folder / "rewritten")
    old, corrections = bank.read_bytes(), trials.folder / "rewritten" / "corrections.csv"
    arguments = ["amend", bank, "--with", corrections, "--in-place"]
    begun = time.monotonic()
    trials.run(*arguments)
    takes, new = time.monotonic() - begun, bank.read_bytes()
    trials.check(old != new, "rewritten: nothing was amended")
    changed = 0
    kills = max(trials.kills // 4, 10)
    for _ in range(kills):
        bank.write_bytes(old)
        process = subprocess.Popen(
            [str(trials.program), *map(str, arguments)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        time.sleep(trials.random.uniform(0, takes * 1.1))
        process.kill()
        process.wait()
        now = bank.read_bytes()
        changed += now == new
        trials.check(now in (old, new), "rewritten: the bank is neither old nor new")
    full = 0
    if os.geteuid() == 0:
        for at, kilobytes in enumerate([100, 330, 500, 700, 2000]):
            try:
                with small_disk(trials.folder / f"rewritten-{at}", kilobytes) as disk:
                    try:
                        (disk / "rewritten.csv").write_bytes(old)
                    except OSError:
                        continue
                    result = trials.run("amend", disk / "rewritten.csv", "--with", corrections, "--in-place")
                    now = (disk / "rewritten.csv").read_bytes()
                    full += result.returncode == 2
                    trials.check(now == (old if result.returncode == 2 else new), f"rewritten: disk of {kilobytes} kB")
                    trials.check(left_over(disk) == [], f"rewritten: {left_over(disk)} left over")
            except subprocess.CalledProcessError:
                break
    return f"{kills} kills, {changed} after the change; {full} full disks"


def destinations(trials: Trials) -> str:
    """What `--out` names is what is written: links stay links, devices devices, pipes pipes, and secrets stay secret."""
    folder = trials.folder / "destinations"
    folder.mkdir()
    bank = folder / "bank.csv"
    bank.write_text(f"id,start,arrows,answer\nx,{FAULTY}\n")
    trials.audit(bank, "--out", folder / "out", "--fail-on", "never")
    old = bank.read_bytes()
    convert = ["convert", bank, "--to", "jsonl", "--out"]
    trials.run(*convert, folder / "plain")
    expected = (folder / "plain").read_bytes()
    (folder / "real").write_text("old")
    (folder / "link").symlink_to("real")
    (folder / "nowhere").symlink_to("is-not-there")
    result = trials.run(*convert, folder / "link")
    trials.check((folder / "link").is_symlink() and (folder / "real").read_bytes() == expected, f"a link: {result.stderr!r}")
    result = trials.run(*convert, folder / "nowhere")
    trials.check(result.returncode == 2 and "nowhere" in result.stderr, f"a link to nothing: {result.stderr!r}")
    os.mkfifo(folder / "pipe")
    read: list[bytes] = []
    reader = threading.Thread(target=lambda: read.append((folder / "pipe").read_bytes()))
    reader.start()
    result = trials.run(*convert, folder / "pipe")
    reader.join(timeout=60)
    trials.check(read == [expected] and (folder / "pipe").is_fifo(), f"a pipe: {result.stderr!r}")
    os.chmod(bank, 0o600)
    (folder / "bank-link.csv").symlink_to("bank.csv")
    corrections = folder / "out" / "corrections.csv"
    result = trials.run("amend", folder / "bank-link.csv", "--with", corrections, "--in-place")
    trials.check((folder / "bank-link.csv").is_symlink() and bank.read_bytes() != old, f"a linked bank: {result.stderr!r}")
    trials.check(os.stat(bank).st_mode & 0o777 == 0o600, "the amended bank can be read by others than before")
    told = 6
    if os.geteuid() == 0:
        for name, minor, status in (("null", 3, 0), ("full", 7, 2)):
            os.mknod(folder / name, 0o666 | 0o020000, os.makedev(1, minor))
            for command in (convert, ["draw", "CC", "--out"]):
                result = trials.run(*command, folder / name)
                trials.check((folder / name).is_char_device(), f"{name}: {command[0]} replaced a device")
                trials.check(result.returncode == status, f"{name}: {command[0]}: {result.returncode} {result.stderr!r}")
                told += 1
    with open("/dev/full", "w") as full:
        for command in (["audit", bank, "--out", folder / "again"], ["push", "[CH2-]C=O", "1 -> 1-2; 2-3 -> 3"], ["findings"]):
            process = subprocess.run(
                [str(trials.program), *map(str, command)], stdout=full, stderr=subprocess.PIPE, text=True, check=False
            )
            holds = process.returncode == 2 and "standard output" in process.stderr
            trials.check(holds, f"full output: {command[0]}: {process.returncode} {process.stderr!r}")
            told += 1
    return f"{told} destinations"


def odd_files(trials: Trials) -> str:
    """A pipe with a name, a pipe in a folder, names that are not UTF-8, links that lead nowhere or round."""
    folder = trials.folder / "odd"
    folder.mkdir()
    os.mkfifo(folder / "pipe.csv")
    (folder / "nowhere.csv").symlink_to("is-not-there.csv")
    (folder / "round").symlink_to(folder)
    name = os.fsencode(folder) + b"/caf\xe9.csv"
    with open(name, "w") as out:
        out.write(f"id,start,arrows,answer\nx,{SOUND}\n")
    result = trials.audit(folder, "--out", trials.folder / "odd-out")
    told = json.loads((trials.folder / "odd-out" / "audit.json").read_text())
    trials.check(told["totals"]["items"] == 1, f"odd files: {told['totals']} {result.stderr!r}")

    def feed() -> None:
        (folder / "pipe.csv").write_text(f"id,start,arrows,answer\nx,{SOUND}\ny,{FAULTY}\n")

    writer = threading.Thread(target=feed)
    writer.start()
    result = trials.audit(folder / "pipe.csv", "--out", trials.folder / "pipe-out")
    writer.join()
    trials.check("2 items: 1 sound, 1 faulty" in result.stdout, f"a pipe: {result.stdout!r} {result.stderr!r}")
    return "a pipe, a link to nothing, a link in a circle, a name that is no UTF-8"


def changing(trials: Trials) -> str:
    """A bank that is written while it is read is named, and the audit is no success."""
    bank = trials.bank("changing.csv", 20000, "c")
    process = subprocess.Popen(
        [str(trials.program), "audit", str(bank), "--out", str(trials.folder / "changing"), "--jobs", "1", "--fail-on", "never"],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
    )
    time.sleep(0.15)
    with bank.open("a") as out:
        out.write("late,C,,C\n")
    text, _ = process.communicate(timeout=120)
    trials.check("changed while it was read" in text, f"changing: {text!r}")
    return "one bank"


def damage(chance: random.Random, data: bytes) -> bytes:
    """A file as a broken disk or a careless hand leaves it."""
    kind = chance.choice(["bytes", "end", "twice", "number", "lines"])
    if kind == "bytes":
        own = bytearray(data)
        for _ in range(chance.randint(1, 5)):
            own[chance.randrange(len(own))] = chance.randrange(256)
        return bytes(own)
    if kind == "end":
        return data[: chance.randrange(len(data))]
    if kind == "twice":
        start = chance.randrange(len(data))
        end = start + chance.randrange(2000)
        return data[:end] + data[start:]
    if kind == "number":
        place = chance.choice(list(re.finditer(rb"\d+", data)))
        number = chance.choice([b"0", b"-1", b"4294967296", b"18446744073709551615", b"1e999", b"9" * 40])
        return data[: place.start()] + number + data[place.end() :]
    lines = data.split(b"\n")
    chance.shuffle(lines)
    return b"\n".join(lines)


def damaged(trials: Trials) -> str:
    """Files that the program wrote and reads again, damaged: it says so or goes on, and ends with a status of its own."""
    folder = trials.folder / "damaged"
    folder.mkdir()
    bank = trials.bank("damaged/bank.csv", 200, "d")
    for part in (1, 2):
        trials.audit(bank, "--shard", f"{part}/2", "--out", folder / f"part-{part}")
    trials.audit(bank, "--out", folder / "out", "--write-known", folder / "known.csv")
    (folder / "profile.toml").write_text("octet = \"strict\"\n[limits]\natoms = 2000\n[severity]\nmismatched-product = \"note\"\n")
    again = ["audit", bank, "--out", folder / "again", "--fail-on", "never"]
    cases: list[tuple[Path, list[object]]] = [
        (next((folder / "part-1").iterdir()), ["gather", folder / "part-1", folder / "part-2", "--out", folder / "whole"]),
        (folder / "out" / "audit.json", [*again, "--since", folder / "out"]),
        (folder / "known.csv", [*again, "--known", folder / "known.csv"]),
        (folder / "profile.toml", [*again, "--profile", folder / "profile.toml"]),
        (folder / "out" / "corrections.csv", ["amend", bank, "--with", folder / "out" / "corrections.csv", "--out", folder / "new.csv"]),
        (folder / "out" / "corrections.files.csv", ["amend", bank, "--with", folder / "out" / "corrections.csv", "--out", folder / "new.csv"]),
    ]
    runs = told = 0
    for path, command in cases:
        data = path.read_bytes()
        for _ in range(25):
            path.write_bytes(damage(trials.random, data))
            result = trials.run(*command)
            runs, told = runs + 1, told + (result.returncode == 2)
            holds = result.returncode in (0, 1, 2) and "panicked" not in result.stderr
            trials.check(holds, f"damaged: {path.name}: {result.returncode} {result.stderr[:300]!r}")
        path.write_bytes(data)
    return f"{len(cases)} kinds of files, {runs} runs, {told} refused"


def pipes(trials: Trials) -> str:
    """Whoever closes our output has seen enough: no panic, no complaint."""
    commands = [["audit", "--out", trials.folder / "piped"], ["findings"], ["push", "[CH2-]C=O", "1 -> 1-2; 2-3 -> 3"]]
    for command in commands:
        process = subprocess.Popen(
            [str(trials.program), *map(str, command)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        assert process.stdout and process.stderr
        process.stdout.close()
        told = process.stderr.read()
        status = process.wait(timeout=60)
        trials.check(status in (0, 1) and "panic" not in told, f"closed output: {command[0]}: {status} {told!r}")
    return f"{len(commands)} commands"


def hostile_banks(folder: Path) -> dict[str, Callable[[Path], None]]:
    def of(text: Callable[[], Iterator[bytes]]) -> Callable[[Path], None]:
        def write(path: Path) -> None:
            with path.open("wb") as out:
                out.writelines(text())
        return write

    head = b"id,start,arrows,answer\n"
    many = 40
    million = 1 << 20
    return {
        "line.csv": of(lambda: iter([head, b"x,", *[b"C" * million] * 50, b",1 -> 1-2,C\n"])),
        "quote.csv": of(lambda: iter([head, b'x,"', *[b"C\n" * million] * many])),
        "zeros.csv": of(lambda: iter([b"\0" * million] * many)),
        "line.jsonl": of(lambda: iter([b'{"id":"', *[b"x" * million] * many, b'"}\n'])),
        "nested.json": of(lambda: iter([b"[" * million] * many)),
        "keys.json": of(lambda: iter([b"[{", *[b'"a":1,' * (million // 6)] * many])),
        "text.cml": of(lambda: iter([b"<cml><molecule><name>", *[b"x" * million] * 200, b"</name></molecule></cml>"])),
        "elements.cml": of(lambda: iter([b"<list>" * (million // 6)] * many)),
        "entities.cml": of(lambda: iter([b"<!DOCTYPE cml [", *[b"<!ENTITY a 'b'>" * 1000] * many, b"]><cml/>"])),
        "molecule.cml": of(lambda: iter([b"<cml><molecule><atomArray>", *[b"<atom elementType='C'/>" * 40000] * many])),
        "arrows.csv": of(lambda: iter([head, b"x,CC,", b"1 -> 1-2; " * (million // 3), b",CC\n"])),
        "rings.csv": of(lambda: iter([head, b"x,", b"".join(b"C%%%02d" % n for n in range(10, 100)) * 8000, b",1 -> 1-2,C\n"])),
        "columns.csv": of(lambda: iter([b"id,start,arrows,answer", b",x" * (4 * million), b"\n", b"q,C,,C\n" * 1000])),
        "cells.csv": of(lambda: iter([head, b"q" + b"," * (15 * million) + b"\n"] * 3)),
        "line.smi": of(lambda: iter([*[b"C" * million] * many, b">>C\t1 -> 1-2\n"])),
    }


def memory(trials: Trials) -> str:
    """Hostile banks in 512 MB of address space end with a finding."""
    def cap() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (512 << 20, 512 << 20))

    banks = hostile_banks(trials.folder)
    for name, write in banks.items():
        path = trials.folder / f"hostile-{name}"
        write(path)
        result = trials.audit(path, "--out", trials.folder / "hostile", preexec_fn=cap)
        counted = re.search(r"(\d+) items?: .* (\d+) unreadable", result.stdout)
        told = result.returncode in (1, 2) and (counted or "nothing could be read" in result.stderr)
        trials.check(bool(told), f"memory: {name}: status {result.returncode} {result.stdout[:200]!r} {result.stderr[:300]!r}")
        path.unlink()
    return f"{len(banks)} hostile banks in 512 MB"


# Address space in megabytes, from less than the program itself takes to more than it needs.
SIZES = [4, 8, 12, 16, 20, 24, 28, 32, 36, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 256]


def refused_memory(trials: Trials) -> str:
    """Memory that is refused at any moment ends a command with status 2 and a sentence; its result is the old one or the new one."""
    folder = trials.folder / "refused"
    folder.mkdir()
    bank = trials.bank("refused/bank.csv", 8000, "m")
    trials.audit(bank, "--out", folder / "first")
    for part in (1, 2):
        trials.audit(bank, "--shard", f"{part}/2", "--out", folder / "parts", "--write", "csv,json")
    out = folder / "out"
    commands: list[tuple[str, list[object], int]] = [
        ("audit", ["audit", bank, "--out", out], 1),
        ("gather", ["gather", folder / "parts", "--out", out, "--write", "csv,json"], 1),
        ("amend", ["amend", bank, "--with", folder / "first" / "corrections.csv", "--out", out / "bank.csv"], 0),
        ("convert", ["convert", bank, "--to", "jsonl", "--out", out / "bank.jsonl"], 0),
    ]
    whole_runs: dict[str, dict[str, bytes]] = {}
    for name, command, status in commands:
        shutil.rmtree(out, ignore_errors=True)
        out.mkdir()
        result = trials.run(*command)
        trials.check(result.returncode == status, f"refused: {name} undisturbed: {result.returncode} {result.stderr[-200:]!r}")
        whole_runs[name] = timeless(out)
    begun = ended = done = 0
    for megabytes in SIZES:
        def cap(most: int = megabytes << 20) -> None:
            resource.setrlimit(resource.RLIMIT_AS, (most, most))
            resource.setrlimit(resource.RLIMIT_CORE, (0, 0))

        # Where the system cannot even load the program, no line of it runs.
        loads = trials.run("--version", preexec_fn=cap).returncode == 0
        begun += loads
        for name, command, status in commands:
            shutil.rmtree(out, ignore_errors=True)
            out.mkdir()
            old = dict.fromkeys(whole_runs[name], b"of an earlier day\n")
            for file, data in old.items():
                (out / file).write_bytes(data)
            result = trials.run(*command, preexec_fn=cap)
            found, new = timeless(out), whole_runs[name]
            what = f"refused: {name} in {megabytes} MB: status {result.returncode} {result.stderr[-200:]!r}"
            if not loads:
                trials.check(found == old, f"{what}: something was written")
                continue
            ended, done = ended + (result.returncode == 2), done + (result.returncode == status)
            trials.check(result.returncode in (status, 2), what)
            trials.check(result.returncode != 2 or bool(result.stderr.strip()), f"{what}: not a word")
            trials.check(found == (new if result.returncode == status else old), f"{what}: neither old nor new")
    trials.check(ended > 4 and done > 4, f"refused: {ended} ended and {done} done say little")
    return f"{len(SIZES)} sizes, {begun} in which the program begins: {ended} commands ended with 2, {done} as undisturbed"


def timeless(folder: Path) -> dict[str, bytes]:
    """The reports of a folder without what tells the time; what was never finished has no report's name."""
    clock = re.compile(rb"\d{4}-\d\d-\d\d[ T][\d:]+")
    files = {name: data for name, data in contents(folder).items() if not name.endswith(".tmp")}
    return {name: clock.sub(b"TIME", data) if name.endswith(".html") else data for name, data in files.items()}


def traced(trials: Trials) -> str:
    """No socket is opened, no program is run, nothing is written outside of the folder for reports."""
    if shutil.which("strace") is None:
        return "left out: there is no strace"
    out, log = trials.folder / "traced", trials.folder / "strace.log"
    calls = "socket,connect,execve,open,openat,creat,rename,renameat,renameat2,unlink,unlinkat,mkdir,mkdirat,link,linkat,symlink,symlinkat,truncate,chmod,fchmodat"
    command = ["strace", "-f", "-y", "-o", log, "-e", f"trace={calls}", trials.program, "audit", trials.folder / "old.csv", "--out", out]
    subprocess.run(list(map(str, command)), capture_output=True, check=False)
    lines = log.read_text(errors="replace").splitlines()
    trials.check(len(lines) > 10, "traced: nothing was traced")
    inside = f'"{out}'
    for line in lines:
        call = re.sub(r"^\d+\s+", "", line)
        if call.startswith(("socket", "connect")):
            trials.check(False, f"traced: {call}")
        writes = re.match(r"(open|openat|creat)\(", call) and re.search(r"O_(WRONLY|RDWR|CREAT|TRUNC)", call)
        changes = re.match(r"(rename|unlink|mkdir|link|symlink|truncate|chmod|fchmod)", call)
        if (writes or changes) and inside not in call and f"<{out}" not in call and "/dev/null" not in call:
            trials.check(False, f"traced: {call}")
    runs = [line for line in lines if "execve(" in line]
    trials.check(len(runs) == 1, f"traced: {runs[1:]}")
    return f"{len(lines)} calls"


def alike(trials: Trials) -> str:
    """One and two threads, on different days, in different folders, zones and languages: the same bytes, but for time and path."""
    corpus = Path(__file__).resolve().parents[2] / "corpus" / "demonstration"
    faketime = shutil.which("faketime")
    runs = [
        ("2024-02-29 23:40:05", "monday", 1, {"TZ": "UTC", "LC_ALL": "C"}),
        ("2031-11-05 04:10:05", "deeper/on a friday", 2, {"TZ": "Pacific/Kiritimati", "LC_ALL": "de_DE.UTF-8", "HOME": "/"}),
        ("2031-11-06 04:10:05", "again", 2, {"TZ": "America/St_Johns", "COLUMNS": "40", "NO_COLOR": "1"}),
    ]
    reports = "csv,html,json,sarif,junit"
    found: list[dict[str, bytes]] = []
    days = set()
    for now, place, jobs, environment in runs:
        folder = trials.folder / "alike" / place
        shutil.copytree(corpus, folder / "bank", ignore=shutil.ignore_patterns("expected"))
        shutil.copy(trials.folder / "new.csv", folder / "bank")
        for out, bank in (("near", "bank"), ("far", folder / "bank")):
            command = [trials.program, "audit", bank, "--out", folder / out, "--jobs", jobs, "--write", reports]
            if faketime is not None:
                command = [faketime, now, *command]
            surroundings = {**os.environ, **environment}
            result = subprocess.run(list(map(str, command)), capture_output=True, check=False, cwd=folder, env=surroundings)
            trials.check(result.returncode == 1, f"alike: {result.returncode} {result.stderr[:300]!r}")
            files = contents(folder / out)
            for name, data in files.items():
                # Only the page and JUnit may name the time, the others have none to take away.
                if name.endswith((".html", ".xml")):
                    stamps = re.findall(rb"\d{4}-\d\d-\d\d[ T]\d\d:\d\d", data)
                    days.update(stamp[:10] for stamp in stamps)
                    data = re.sub(rb"\d{4}-\d\d-\d\d[ T][\d:]+", b"TIME", data)
                # Digests are taken over the names of files too, and those over the path.
                data = re.sub(rb'"digest": "[0-9a-f]+"', b"DIGEST", data)
                if name == "corrections.csv":
                    data = re.sub(rb"\bk[0-9a-f]{16}\b", b"CHECK", data)
                files[name] = data.replace(os.fsencode(f"{folder}/"), b"")
            found.append(files)
    for other in found[1:]:
        trials.check(other.keys() == found[0].keys(), "alike: other files")
        differing = [name for name in found[0] if other.get(name) != found[0][name]]
        trials.check(differing == [], f"alike: {differing} differ")
    if faketime is None:
        return f"{len(found[0])} files, {len(found)} runs, all today: there is no faketime"
    trials.check(len(days) == len(runs), f"alike: the reports are of the days {days}")
    return f"{len(found[0])} files, {len(found)} runs on {len(days)} days"


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("program", type=Path)
    parser.add_argument("--kills", type=int, default=200)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="trials-") as folder:
        trials = Trials(arguments.program.resolve(), Path(folder), arguments.kills)
        failed = run_all(
            trials,
            killed, interrupted, rewritten, disk_full, read_only, places, destinations, odd_files, changing, damaged, pipes, memory,
            refused_memory, traced, alike,
        )
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
