"""Memory and time of workbooks: decisions written to `audit.xlsx`, and full sheets read.

    python3 benches/workbooks.py PROGRAM [FOLDER]

Writes: banks of which half of the items are faulty, so that about 10,000, 100,000 and 300,000 decisions are written. Reads: a sheet of 1,048,576 rows, of
the same items, with its texts in the cells, with texts that are kept once for all cells, and as .ods. Memory is the most that the process
had; time is that of the processor.
"""

from __future__ import annotations

import csv
import os
import pathlib
import subprocess
import sys
import tempfile
import zipfile
from xml.sax.saxutils import escape

HERE = pathlib.Path(__file__).resolve().parent
ROWS = 1_048_576
MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"


def bank(path: pathlib.Path, items: int, kind: str) -> None:
    """A bank of so many items."""
    with open(path, "w") as out:
        subprocess.run([sys.executable, str(HERE / "bank.py"), str(items), "1", kind], stdout=out, check=True)


def measured(*arguments: object) -> tuple[str, float, float]:
    """What a command says, its seconds of processor and its memory in MB."""
    read, write = os.pipe()
    child = os.fork()
    if child == 0:
        os.dup2(write, 1)
        os.execv(str(arguments[0]), [str(own) for own in arguments])
    os.close(write)
    with os.fdopen(read) as pipe:
        said = pipe.read()
    _, _, usage = os.wait4(child, 0)
    return said, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024


def shared(source: pathlib.Path, path: pathlib.Path) -> None:
    """The table as an .xlsx whose texts are kept once, as spreadsheet programs save it."""
    texts: dict[str, int] = {}
    with open(source, newline="") as table, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as out:
        out.writestr("_rels/.rels", f'<Relationships xmlns="{PACKAGE}/relationships"><Relationship Id="r1" Type="{OFFICE}/officeDocument" Target="xl/workbook.xml"/></Relationships>')
        out.writestr("xl/workbook.xml", f'<workbook {MAIN} xmlns:r="{OFFICE}"><sheets><sheet name="Bank" sheetId="1" r:id="r1"/></sheets></workbook>')
        out.writestr("xl/_rels/workbook.xml.rels", f'<Relationships xmlns="{PACKAGE}/relationships"><Relationship Id="r1" Type="{OFFICE}/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="r2" Type="{OFFICE}/sharedStrings" Target="sharedStrings.xml"/></Relationships>')
        with out.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as sheet:
            sheet.write(f"<worksheet {MAIN}><sheetData>".encode())
            for number, row in enumerate(csv.reader(table), 1):
                cells = "".join(f'<c r="{"ABCDEFGH"[at]}{number}" t="s"><v>{texts.setdefault(cell, len(texts))}</v></c>' for at, cell in enumerate(row) if cell)
                sheet.write(f'<row r="{number}">{cells}</row>'.encode())
            sheet.write(b"</sheetData></worksheet>")
        with out.open("xl/sharedStrings.xml", "w", force_zip64=True) as strings:
            strings.write(f'<sst {MAIN} uniqueCount="{len(texts)}">'.encode())
            for text in texts:
                strings.write(f"<si><t>{escape(text)}</t></si>".encode())
            strings.write(b"</sst>")


def main() -> None:
    """Measures and prints."""
    program = pathlib.Path(sys.argv[1]).resolve()
    folder = pathlib.Path(sys.argv[2] if len(sys.argv) > 2 else tempfile.mkdtemp(prefix="workbooks-"))
    folder.mkdir(parents=True, exist_ok=True)
    print("| what | memory | processor | file |\n|---|---|---|---|")
    for items in (20_000, 200_000, 600_000):
        own = folder / f"half-{items}.csv"
        bank(own, items, "half")
        for write in ("csv", "xlsx"):
            out = folder / f"out-{items}-{write}"
            _, seconds, memory = measured(program, "audit", own, "--out", out, "--write", write, "--quiet", "--jobs", 2)
            sizes = sum(path.stat().st_size for path in out.glob("*.*")) >> 20
            print(f"| {items:,} items, half of them faulty, --write {write} | {memory:.0f} MB | {seconds:.1f} s | {sizes} MB |", flush=True)
    full = folder / "full.csv"
    bank(full, ROWS - 1, "tenth")
    shared(full, folder / "shared.xlsx")
    for kind in ("xlsx", "ods"):
        subprocess.run([program, "convert", full, "--to", kind, "--out", folder / f"full.{kind}"], check=True, capture_output=True)
    profile = folder / "roomy.toml"
    profile.write_text("[limits]\nzip-entry-bytes = 4_000_000_000\nshared-strings = 8_000_000\n")
    for name in ("full.csv", "full.xlsx", "shared.xlsx", "full.ods"):
        audit = [program, "audit", folder / name, "--out", folder / "out", "--write", "json", "--jobs", 2]
        said, seconds, memory = measured(*audit)
        if "0 items" in said or " items: " not in said:
            refused = next((line for line in said.splitlines() if line.startswith("not read")), "refused")
            print(f"| {name}, {ROWS:,} rows: {refused} | {memory:.0f} MB | {seconds:.1f} s | |", flush=True)
            said, seconds, memory = measured(*audit, "--profile", profile)
        first = next((line for line in said.splitlines() if " items: " in line), said[:200])
        print(f"| {name}, {ROWS:,} rows: {first} | {memory:.0f} MB | {seconds:.1f} s | {(folder / name).stat().st_size >> 20} MB |", flush=True)


if __name__ == "__main__":
    main()
