"""Times audits from Python: the same bank as CSV through the program, as rows, and as tables of pandas, polars and pyarrow.

    python3 benches/tables.py BANK.csv [ROUNDS]

Each way runs in a process of its own, so that memory is its own; the time is that of the audit, not of reading the table; where other work is on the machine, that of
the processor tells more. The table itself
is in memory before: `before` is the memory by then.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
import time

WAYS = {
    "path": "bank = path",
    "rows": "import csv\nbank = list(csv.DictReader(open(path, newline='')))",
    "pandas": "import pandas\nbank = pandas.read_csv(path, dtype=str)",
    "polars": "import polars\nbank = polars.read_csv(path, infer_schema=False)",
    "pyarrow": "import pyarrow.csv\nbank = pyarrow.csv.read_csv(path)",
}


def memory() -> float:
    """The most memory of this process, in MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def children() -> float:
    """Seconds of processor that processes which have ended took."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def one(way: str, path: str) -> None:
    """Audits one bank in one way."""
    import hashlib

    import keyassay

    names: dict[str, object] = {"path": path}
    exec(WAYS[way], names)
    before, begun, spent = memory(), time.perf_counter(), time.process_time()
    audit = keyassay.audit(names["bank"])
    seconds, cpu = time.perf_counter() - begun, time.process_time() - spent
    found = hashlib.sha256()
    for own in audit:
        found.update(repr((own.item, own.finding, own.slip, own.correction)).encode())
    told = {"seconds": seconds, "cpu": cpu, "before": before, "most": memory(), "items": audit.totals["items"], "findings": found.hexdigest()[:16]}
    print(json.dumps(told))


def main() -> None:
    """Audits a bank in each way."""
    path, rounds = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 5
    digests = set()
    program: list[tuple[float, float]] = []
    for _ in range(rounds):
        begun, spent = time.perf_counter(), children()
        command = [sys.executable, "-m", "keyassay", "audit", path, "--out", "/tmp/tables-out", "--write", "csv", "--quiet"]
        subprocess.run(command, check=False, capture_output=True)
        program.append((children() - spent, time.perf_counter() - begun))
    print(f"{'program':8} {min(program)[1]:7.3f} s, {min(program)[0]:7.3f} s of processor")
    for way in WAYS:
        runs = []
        for _ in range(rounds):
            done = subprocess.run([sys.executable, __file__, "--one", way, path], check=True, capture_output=True, text=True)
            runs.append(json.loads(done.stdout))
        best = min(runs, key=lambda own: own["cpu"])
        digests |= {own["findings"] for own in runs}
        print(f"{way:8} {best['seconds']:7.3f} s, {best['cpu']:7.3f} s of processor, {best['before']:6.0f} MB before, {best['most']:6.0f} MB at most, {best['items']} items")
    print("equal findings" if len(digests) == 1 else f"findings differ: {digests}")


if __name__ == "__main__":
    if sys.argv[1] == "--one":
        one(sys.argv[2], sys.argv[3])
    else:
        main()
