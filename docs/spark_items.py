"""Judges a table of items on the executors of an Apache Spark cluster, with `mapInArrow` and the Python module.

Each item is judged by itself, so that the executors need nothing but its row. Findings that only the whole bank shows come from Spark's
own `groupBy` on the digests that the module gives: items that ask the same, and of these, items that state something else. No machine
holds an index of all items. (That answers stand one place off, `shifted-answers`, follows from neighbours in a file, and a table of Spark has
none: one run of the program finds it.) Needs PyPI `pyspark` and `pyarrow`, Java 17, and the wheel on the driver and the executors.

    spark-submit --master spark://host:7077 docs/spark_items.py items.parquet out

Writes `out/findings` and `out/verdicts` as Parquet.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from typing import Any

import pyarrow as pa
from pyspark.sql import DataFrame, SparkSession
from pyspark.sql import functions as f

VERDICTS = pa.schema([("item", pa.string()), ("verdict", pa.string()), ("question", pa.string()), ("answer", pa.string())])
FINDINGS = ("severity", "finding", "atoms", "stated", "computed", "message", "slip", "correction")
SPARK = (
    "item string, verdict string, question string, answer string, "
    "findings array<struct<step int, " + ", ".join(f"{name} string" for name in FINDINGS) + ">>"
)
ARROW = VERDICTS.append(
    pa.field("findings", pa.list_(pa.struct([("step", pa.int32()), *((name, pa.string()) for name in FINDINGS)])))
)


def judge(batches: Iterator[pa.RecordBatch]) -> Iterator[pa.RecordBatch]:
    """Judges the items of some batches."""
    import keyassay

    for batch in batches:
        rows: list[dict[str, Any]] = []
        for own in keyassay.judge_all(batch):
            found = [{"step": one.step, **{name: getattr(one, name) for name in FINDINGS}} for one in own.findings]
            question, answer = own.digest if own.digest else (None, None)
            rows.append({"item": own.item, "verdict": own.verdict, "question": question, "answer": answer, "findings": found})
        yield pa.RecordBatch.from_pylist(rows, schema=ARROW)


def of_the_whole(verdicts: DataFrame) -> DataFrame:
    """Items that ask what an earlier one asks, with the finding: the first of them, by its id, has none."""
    asked = verdicts.where(f.col("question").isNotNull())
    first = asked.groupBy("question").agg(f.count("*").alias("items"), f.min_by(f.struct("item", "answer"), "item").alias("first"))
    again = asked.join(first.where("items > 1"), "question").where(f.col("item") != f.col("first.item"))
    same = f.col("answer") == f.col("first.answer")
    finding = f.when(same, "repeated-question").otherwise("conflicting-answers")
    return again.select("item", finding.alias("finding"), f.col("first.item").alias("first"))


def repeated_ids(verdicts: DataFrame) -> DataFrame:
    """Ids of more than one item."""
    return verdicts.groupBy("item").agg(f.count("*").alias("items")).where("items > 1")


def main() -> None:
    """Judges a Parquet file of items."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("items")
    parser.add_argument("out")
    asked = parser.parse_args()
    spark = SparkSession.builder.appName("keyassay").getOrCreate()
    judged = spark.read.parquet(asked.items).mapInArrow(judge, SPARK)
    judged.write.mode("overwrite").parquet(f"{asked.out}/judged")
    judged = spark.read.parquet(f"{asked.out}/judged")
    judged.drop("findings").write.mode("overwrite").parquet(f"{asked.out}/verdicts")
    judged.select("item", f.explode("findings").alias("own")).select("item", "own.*").write.mode("overwrite").parquet(
        f"{asked.out}/findings"
    )
    of_the_whole(judged).write.mode("overwrite").parquet(f"{asked.out}/of_the_whole")
    repeated_ids(judged).write.mode("overwrite").parquet(f"{asked.out}/repeated_ids")
    judged.groupBy("verdict").count().orderBy("verdict").show()
    spark.stop()


if __name__ == "__main__":
    main()
