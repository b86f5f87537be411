"""Audits of paths, rows and tables."""

from __future__ import annotations

import csv
import json
import os
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any, Iterator

import keyassay
import pytest
from banks import FAULTY, NESTED, SOUND, large


def told(audit: keyassay.Audit) -> list[tuple[Any, ...]]:
    """What there is to compare of an audit, but for the places."""
    return [(own.item, own.step, own.finding, own.slip, own.correction) for own in audit]


def write_csv(path: Path, bank: list[dict[str, Any]]) -> Path:
    with path.open("w", newline="") as file:
        writer = csv.DictWriter(file, list(bank[0]))
        writer.writeheader()
        writer.writerows(bank)
    return path


def test_rows_say_what_the_file_says(tmp_path: Path) -> None:
    bank = [SOUND, FAULTY, {**SOUND, "id": "again"}, {**SOUND, "id": ""}, {**FAULTY, "arrows": "1 -> 9"}]
    path = write_csv(tmp_path / "bank.csv", bank)
    rows, file = keyassay.audit(bank), keyassay.audit(path)
    named = [(own, how) for own, how in zip(told(rows), told(file)) if not how[0].startswith(str(tmp_path))]
    assert [own for own, _ in named] == [how for _, how in named]
    assert rows.totals == file.totals
    assert [own.line for own in rows] == [own.line - 1 for own in file]
    assert {own.file for own in rows} == {""} and {own.file for own in file} == {str(path)}
    # An item without an id is named by its place.
    assert "row 4" in {own.item for own in rows}
    # Places of other items, too: there is no file to name.
    assert any("the one at row 1" in own.message for own in rows)


def test_everything_that_is_a_bank_is_one(tmp_path: Path) -> None:
    path = write_csv(tmp_path / "bank.csv", [SOUND, FAULTY])
    banks: dict[str, Any] = {
        "text path": str(path),
        "path": path,
        "list of paths": [path],
        "folder": tmp_path,
        "list": [SOUND, FAULTY],
        "tuple": (SOUND, FAULTY),
        "generator": (own for own in [SOUND, FAULTY]),
        "csv reader": csv.DictReader(path.open()),
    }
    for name, bank in banks.items():
        audit = keyassay.audit(bank)
        assert (audit.totals["items"], audit.totals["faulty"]) == (2, 1), name
        assert audit.findings[0].correction == SOUND["answer"], name


def test_what_is_no_bank_is_refused(tmp_path: Path) -> None:
    other = tmp_path / "people.csv"
    other.write_text("name,room\nPaula,12\n")
    cases: list[tuple[Any, type[BaseException], str]] = [
        (tmp_path / "nothing.csv", keyassay.KeyassayError, "no such file"),
        (other, keyassay.KeyassayError, "no 'start'"),
        (12, TypeError, "a bank is a path"),
        (b"id,start", TypeError, "a bank is a path"),
        (SOUND, TypeError, "put the one item into a list"),
        ([12], TypeError, "an item is a mapping of its fields, not int"),
        ([{1: "CC"}], TypeError, "named by strings"),
        ((own for own in [1 // 0 for _ in ()] + [None]), TypeError, "not NoneType"),
    ]
    for bank, error, words in cases:
        with pytest.raises(error, match=words):
            keyassay.audit(bank)


def test_an_exception_of_the_rows_comes_out() -> None:
    def rows() -> Iterator[dict[str, Any]]:
        yield SOUND
        raise RuntimeError("the server has gone")

    with pytest.raises(RuntimeError, match="the server has gone"):
        keyassay.audit(rows())


def test_rows_nest_and_steps_are_gathered() -> None:
    flat = [
        {"id": "s", "step": 1, "start": NESTED["start"], "arrows": "4 -> 2-4; 2-3 -> 3", "answer": "[CH3:1][CH:2]([O-:3])[OH:4]"},
        {"id": "s", "step": 2.0, "arrows": "3 -> 2-3; 2-4 -> 4", "answer": "[CH3:1][CH:2]=[O:3].[OH-:4]", "start": float("nan")},
    ]
    for bank in ([NESTED], flat, [SOUND, NESTED, FAULTY], [SOUND, *flat, FAULTY]):
        audit = keyassay.audit(bank)
        assert audit.totals["unreadable"] == 0, list(audit)
        assert audit.totals["items"] == (3 if SOUND in bank else 1)
        last = len(bank)
        assert {own.line for own in audit if own.item == FAULTY["id"]} == ({last} if FAULTY in bank else set())


def test_strange_cells_are_findings_and_no_crash() -> None:
    strange = ['"', "a\nb", "\x1f", "\ud800", "\x00", "C" * 2_000_000, "<molecule>", True, 12, 1e400]
    bank = [{**SOUND, "id": f"q{at}", "answer": own} for at, own in enumerate(strange)]
    audit = keyassay.audit(bank)
    assert (audit.totals["items"], audit.totals["sound"]) == (len(bank), 0)
    assert [own.line for own in audit if own.severity == "error"][0] == 1
    assert {own.line for own in audit if own.severity == "error"} == set(range(1, len(bank) + 1))


def test_tables_of_other_libraries_say_the_same(tmp_path: Path) -> None:
    pandas, polars, pyarrow = (pytest.importorskip(own) for own in ("pandas", "polars", "pyarrow"))
    bank = large(3_000)
    for own in bank[::7]:
        own["answer"] = None
    path = write_csv(tmp_path / "bank.csv", bank)
    table = pyarrow.Table.from_pylist(bank)
    nested = pyarrow.Table.from_pylist([{**own, "arrows": own["arrows"].split("; ")} for own in bank])
    expected = keyassay.audit(path)
    tables = {
        "pandas": pandas.DataFrame(bank),
        "pandas of pyarrow": table.to_pandas(types_mapper=pandas.ArrowDtype),
        "pandas index": pandas.DataFrame(bank).set_index(pandas.Index(range(5, 5 + len(bank)))),
        "polars": polars.DataFrame(bank),
        "polars lazy": polars.DataFrame(bank).lazy(),
        "pyarrow": table,
        "pyarrow batch": table.combine_chunks().to_batches()[0],
        "pyarrow lists": nested,
        "rows": bank,
    }
    for name, own in tables.items():
        audit = keyassay.audit(own)
        assert told(audit) == told(expected), name
        assert [finding.line for finding in audit] == [finding.line - 1 for finding in expected], name
        assert audit.totals == expected.totals, name


def test_findings_as_tables() -> None:
    pandas, polars, pyarrow = (pytest.importorskip(own) for own in ("pandas", "polars", "pyarrow"))
    for bank in ([SOUND, FAULTY, NESTED], [SOUND]):
        audit = keyassay.audit(bank)
        assert isinstance(audit.to_pandas(), pandas.DataFrame)
        assert isinstance(audit.to_polars(), polars.DataFrame)
        assert isinstance(audit.to_arrow(), pyarrow.Table)
        expected = [own.correction for own in audit]
        assert list(audit.to_pandas()["correction"]) == expected
        assert audit.to_polars()["correction"].to_list() == expected
        assert audit.to_arrow()["correction"].to_pylist() == expected
        names = "file line item step severity finding atoms stated computed message slip correction".split()
        assert list(audit.to_pandas().columns) == audit.to_polars().columns == audit.to_arrow().schema.names == names


def test_reports_are_those_of_the_program(tmp_path: Path) -> None:
    path = write_csv(tmp_path / "bank.csv", large(200))
    keyassay.audit(path).write(tmp_path / "module", "csv,json,sarif")
    done = subprocess.run(
        [sys.executable, "-m", "keyassay", "audit", str(path), "--out", str(tmp_path / "program"), "--write", "csv,json,sarif"],
        check=False,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 1, done.stderr
    for name in ("audit.csv", "audit.json", "audit.sarif", "corrections.csv"):
        own = (tmp_path / "module" / name).read_bytes()
        assert own == (tmp_path / "program" / name).read_bytes(), name
    with pytest.raises(keyassay.KeyassayError, match="there is no report 'pdf'"):
        keyassay.audit(path).write(tmp_path, ["pdf"])


def test_an_iterator_cannot_be_read_twice(tmp_path: Path) -> None:
    audit = keyassay.audit(iter([SOUND, FAULTY]))
    with pytest.raises(ValueError, match="give a list of them"):
        audit.write(tmp_path / "out")
    keyassay.audit([SOUND, FAULTY]).write(tmp_path / "out")
    assert json.loads((tmp_path / "out" / "audit.json").read_text())["totals"]["faulty"] == 1


def test_settings_apply(tmp_path: Path) -> None:
    profile = tmp_path / "department.toml"
    profile.write_text('task = "resonance"\n[columns]\nstart = ["Drawing"]\n[severity]\nmismatched-product = "warning"\n')
    row = {"Drawing": SOUND["start"], "arrows": SOUND["arrows"], "answer": FAULTY["answer"]}
    audit = keyassay.audit([row], profile=profile)
    assert {own.finding: own.severity for own in audit}["mismatched-product"] == "warning"
    with pytest.raises(keyassay.KeyassayError, match="cannot be read"):
        keyassay.audit([row], profile=tmp_path / "none.toml")
    sulfate = {"start": "[O-]S(=O)(=O)[O-]", "arrows": "2-3 -> 3", "answer": "[O-][S+](=O)([O-])[O-]"}
    found = [{own.finding for own in keyassay.audit([sulfate], octet=rule)} for rule in ("usual", "strict")]
    assert "hypervalent-atom" not in found[0] and "hypervalent-atom" in found[1]
    with pytest.raises(ValueError, match="octet is"):
        keyassay.audit([row], octet="loose")


def test_threads_change_nothing() -> None:
    bank = large(2_000)
    assert told(keyassay.audit(bank, jobs=1)) == told(keyassay.audit(bank, jobs=64))


def test_other_threads_of_python_go_on() -> None:
    counted = 0
    ended = threading.Event()

    def count() -> None:
        nonlocal counted
        while not ended.is_set():
            counted += 1
            time.sleep(0)

    thread = threading.Thread(target=count)
    thread.start()
    keyassay.audit(large(20_000))
    ended.set()
    thread.join()
    # Held back, it would have counted a few.
    assert counted > 50


def test_progress_is_told() -> None:
    seen: list[int] = []

    def rows() -> Iterator[dict[str, Any]]:
        for at, own in enumerate(large(4_000)):
            if at % 1_000 == 0:
                time.sleep(0.2)
            yield own

    keyassay.audit(rows(), progress=seen.append)
    assert seen == sorted(seen) and len(seen) >= 1

    def refuse(items: int) -> None:
        raise RuntimeError(f"enough after {items}")

    with pytest.raises(RuntimeError, match="enough after"):
        keyassay.audit(rows(), progress=refuse)


@pytest.mark.skipif(os.name != "posix", reason="sends a signal")
def test_an_interrupt_ends_a_long_audit() -> None:
    code = (
        "import itertools, sys, keyassay\n"
        f"row = {SOUND!r}\n"
        "rows = ({**row, 'id': f'q{at}'} for at in itertools.count())\n"
        "print('begun', flush=True)\n"
        "try:\n"
        "    keyassay.audit(rows)\n"
        "except KeyboardInterrupt:\n"
        "    print('interrupted', flush=True)\n"
    )
    with subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == "begun\n"
        time.sleep(1)
        process.send_signal(signal.SIGINT)
        begun = time.monotonic()
        assert process.stdout.readline() == "interrupted\n"
        assert time.monotonic() - begun < 20
        assert process.wait(20) == 0


def test_a_notebook_shows_counts_and_cards() -> None:
    shown = keyassay.audit([SOUND, FAULTY])._repr_html_()
    assert "2 items: 1 sound, 1 faulty" in shown and "<svg" in shown and "head-charge-kept" in shown
    assert "no laboratory procedure" in shown and "<script" not in shown
    assert "<b>x" not in keyassay.audit([{**FAULTY, "id": "<b>x"}])._repr_html_()
