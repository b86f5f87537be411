"""Audits a bank in shards on an Apache Spark cluster and gathers one report.

Each partition of the job is one shard: a worker runs `keyassay audit BANK --shard I/N`, which leaves a partial audit that is
whole or not there, so that Spark may run a shard again, or twice, when a worker is lost. Bank, profile and the folder of the
partial audits lie where every worker sees them under one path. Needs PyPI `pyspark` and Java 17.

    spark-submit --master spark://host:7077 docs/spark_audit.py --shards 64 --parts /shared/parts --out reports bank.jsonl

What follows `--` goes to the audit: a profile, `--write csv,json`, `--octet strict`.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

from pyspark.sql import SparkSession


def judge(program: str, bank: str, parts: str, shards: int, more: list[str], own: Iterable[int]) -> Iterator[tuple[int, str]]:
    """Runs the shards of one partition; a shard that fails fails its task, and Spark runs it again elsewhere."""
    for shard in own:
        command = [program, "audit", bank, "--shard", f"{shard}/{shards}", "--out", parts, "--jobs", "1", *more]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if done.returncode:
            raise RuntimeError(f"shard {shard}/{shards}: status {done.returncode}: {done.stderr.strip()}")
        yield shard, done.stdout.strip()


def main() -> int:
    """Judges all shards on the cluster and gathers them here."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("bank", type=Path)
    parser.add_argument("more", nargs="*", help="further options of the audit, behind --")
    parser.add_argument("--program", default="keyassay")
    parser.add_argument("--shards", type=int, default=16)
    parser.add_argument("--parts", type=Path, required=True, help="a folder that all workers see")
    parser.add_argument("--out", type=Path, default=Path("reports"))
    asked = parser.parse_args()
    program, shards, more = asked.program, asked.shards, asked.more
    bank, parts = str(asked.bank.resolve()), str(asked.parts.resolve())
    spark = SparkSession.builder.appName("keyassay").getOrCreate()
    numbers = spark.sparkContext.parallelize(range(1, shards + 1), shards)
    for _, said in sorted(numbers.mapPartitions(lambda own: judge(program, bank, parts, shards, more, own)).collect()):
        print(said)
    spark.stop()
    write = [option for at, option in enumerate(more) if option == "--write" or more[at - 1 : at] == ["--write"]]
    return subprocess.run([program, "gather", parts, "--out", str(asked.out), *write], check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
