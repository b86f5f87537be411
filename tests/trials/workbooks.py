#!/usr/bin/env python3
"""Mutated workbooks of all kinds through the reader: no crash, no hang, no more memory than 512 MB.

    tests/trials/workbooks.py PROGRAM [--count 20000] [--seed 1] [--keep DIR]

Seeds are the workbooks of corpus/workbooks. Parts of zipped ones are changed inside and packed anew with right checksums, so that
the change reaches the reader of the part; one in ten is changed as a file. Each is audited by a process of its own under a limit of 512 MB of
address space; one that takes more than 2 s of processor time, or ends by a signal, is a fault and is kept. Status 1 if there is any.
"""
import argparse
import io
import os
import pathlib
import random
import resource
import shutil
import sys
import tempfile
import time
import zipfile
from concurrent.futures import ThreadPoolExecutor

SECONDS, MEMORY = 2.0, 512 << 20
SEEDS = pathlib.Path(__file__).resolve().parents[2] / "corpus/workbooks"
NUMBERS = [b"0", b"-1", b"1", b"65536", b"1048577", b"4294967295", b"4294967296", b"99999999999999999999", b"1e308", b"NaN"]


def changed(data, dice):
    """A few changes: bits, bytes, numbers, stretches taken out, doubled or exchanged."""
    data = bytearray(data)
    for _ in range(dice.choice([1, 1, 1, 2, 4, 16])):
        if not data:
            return bytes(data)
        at, length = dice.randrange(len(data)), dice.choice([1, 2, 4, 8, 64, 512])
        kind = dice.randrange(7)
        if kind == 0:
            data[at] ^= 1 << dice.randrange(8)
        elif kind == 1:
            data[at] = dice.choice([0, 1, 0x7F, 0x80, 0xFF, dice.randrange(256)])
        elif kind == 2:
            del data[at : at + length]
        elif kind == 3:
            data[at:at] = data[at : at + length] * dice.choice([1, 1, 2, 64])
        elif kind == 4:
            other = dice.randrange(len(data))
            data[at : at + length] = data[other : other + length]
        elif kind == 5:
            data[at : at + 4] = dice.choice([b"\xff\xff\xff\xff", b"\xff\xff\xff\x7f", b"\0\0\0\0", b"\0\0\1\0", b"\xff\xff\0\0"])
        else:
            # A number of a text, or a digit of it.
            digits = [place for place in range(at, min(at + 400, len(data))) if 48 <= data[place] <= 57]
            if digits:
                first = digits[0]
                last = first
                while last < len(data) and 48 <= data[last] <= 57:
                    last += 1
                data[first:last] = dice.choice(NUMBERS)
    return bytes(data)


def mutant(seed, dice):
    data = seed.read_bytes()
    if not data.startswith(b"PK") or dice.randrange(10) == 0:
        return changed(data, dice)
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        names = old.namelist()
        likely = [name for name in names if any(word in name.lower() for word in ("sheet", "workbook", "content.xml", "shared", "styles", "rels"))]
        chosen = dice.choice(likely or names)
        for name in names:
            part = old.read(name)
            new.writestr(zipfile.ZipInfo(name), changed(part, dice) if name == chosen else part, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def limited():
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (20, 25))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def audited(program, path, out):
    """The status, processor seconds and peak memory of an audit."""
    child = os.fork()
    if child == 0:
        try:
            limited()
            void = os.open(os.devnull, os.O_RDWR)
            error = os.open(str(out) + ".err", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
            os.dup2(void, 0), os.dup2(void, 1), os.dup2(error, 2)
            os.execv(program, [program, "audit", str(path), "--out", str(out), "--write", "csv", "--jobs", "1", "--quiet"])
        finally:
            os._exit(127)
    _, status, usage = os.wait4(child, 0)
    return os.waitstatus_to_exitcode(status), usage.ru_utime + usage.ru_stime, usage.ru_maxrss << 10


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("program")
    arguments.add_argument("--count", type=int, default=20_000)
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--keep", type=pathlib.Path, default=pathlib.Path("mutants"))
    arguments.add_argument("--jobs", type=int, default=2)
    arguments = arguments.parse_args()
    program = str(pathlib.Path(arguments.program).resolve())
    seeds = sorted(path for path in SEEDS.iterdir() if path.suffix in (".xlsx", ".ods", ".xls", ".xlsb"))
    began, slowest, largest, faults = time.time(), (0.0, ""), (0, ""), []
    kinds, statuses = {}, {}
    with tempfile.TemporaryDirectory() as folder:

        def one(number):
            dice = random.Random(arguments.seed * 1_000_003 + number)
            seed = seeds[number % len(seeds)]
            name = f"{number}{seed.suffix}"
            path = pathlib.Path(folder) / name
            path.write_bytes(mutant(seed, dice))
            status, seconds, memory = audited(program, path, path.with_suffix(""))
            why = ""
            error = pathlib.Path(str(path.with_suffix("")) + ".err").read_text(errors="replace").strip().splitlines()
            # A program that is built to unwind goes on where another one aborts.
            if status not in (0, 1, 2) or any("panicked" in line for line in error):
                why = f"ended with {status}: {' / '.join(error[:2])[:300]}"
            elif seconds > SECONDS:
                why = f"took {seconds:.1f} s"
            if why:
                arguments.keep.mkdir(exist_ok=True)
                shutil.copy(path, arguments.keep / name)
            path.unlink()
            shutil.rmtree(path.with_suffix(""), ignore_errors=True)
            pathlib.Path(str(path.with_suffix("")) + ".err").unlink(missing_ok=True)
            return name, seed.suffix, status, seconds, memory, why

        with ThreadPoolExecutor(arguments.jobs) as pool:
            for name, kind, status, seconds, memory, why in pool.map(one, range(arguments.count)):
                kinds[kind] = kinds.get(kind, 0) + 1
                statuses[status] = statuses.get(status, 0) + 1
                slowest, largest = max(slowest, (seconds, name)), max(largest, (memory, name))
                if why:
                    faults.append(name)
                    print(f"{name}: {why}", flush=True)
    print(f"{arguments.count} mutants of {len(seeds)} workbooks ({kinds}) in {time.time() - began:.0f} s; statuses {statuses}")
    print(f"slowest {slowest[0]:.2f} s ({slowest[1]}), largest {largest[0] >> 20} MB ({largest[1]}), {len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
