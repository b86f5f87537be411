#!/usr/bin/env python3
"""Workbooks there and back through a spreadsheet program: what LibreOffice and openpyxl make of what keyassay writes, and the other way.

    tests/trials/spreadsheets.py PROGRAM [--keep DIR]

Needs openpyxl and `soffice` (Debian: libreoffice-calc). A workbook as a department keeps it (title, merged header, colours, comments, formulas,
a list to choose from, a rule that colours cells, named ranges, hidden rows, notes below, two sheets) is made with openpyxl, calculated and
saved by LibreOffice as .xlsx, .ods and .xls, and then

1. audited: each kind says the same of every item;
2. amended: every other part of the zip is the same byte for byte, of the cells only those named differ, formulas and styles are as they were, and
   LibreOffice opens it: what it shows differs where it should;
3. `audit.xlsx` is opened by both: header, filter, frozen row, list of decisions, `=1+1` as a text; decided in openpyxl, and saved by
   LibreOffice as .ods and CSV, it is followed.

Status 1 if anything does not hold.
"""
import argparse
import csv
import pathlib
import shutil
import subprocess
import sys
import tempfile
import zipfile

import openpyxl
from openpyxl.comments import Comment
from openpyxl.formatting.rule import CellIsRule
from openpyxl.styles import Alignment, Font, PatternFill
from openpyxl.workbook.defined_name import DefinedName
from openpyxl.worksheet.datavalidation import DataValidation

HEADER = ["Code", "Reactant", "Electron flow", "Product", "Points", "Share", "Remarks"]
SHEETS = {
    "Autumn": [
        ["Nucleophiles"],
        ["A-01", "[OH-].CBr", "1 -> 1-2; 2-3 -> 3", "CO.[Br-]", 2, None, "checked"],
        ["A-02", "[SH-].CCI", "1 -> 1-3; 3-4 -> 4", "CCS.[I]", 2, None, None],
        ["=1+1", "[NH2-].CCl", "1 -> 1-2;\n2-3 -> 3", "CN.[Cl]", 3, None, "two lines"],
        [],
        ["Carbonyls"],
        ["A-04", "[OH-].CC=O", "1 -> 1-3; 3-4 -> 4", "CC([O-])O", 1, None, None],
        ["A-05", "[OH-].CCC=O", "1 -> 1-4; 4-5 -> 5", "CCC([O])O", 1, None, "see A-04"],
        ["A-06", "[OH-].CCCC=O", "1 -> 1-5; 5-6 -> 6", None, 1, None, "answer to come"],
    ],
    "Spring": [
        ["S-01", "[SH-].CBr", "1 -> 1-2; 2-3 -> 3", "CS.[Br-]", 2, None, None],
        ["S-02", "[OH-].CCl", "1 -> 1-2; 2-3 -> 3", "CO.[Cl]", 2, None, None],
        ["S-03", "[OH-].CI(", "1 -> 1-2; 2-3 -> 3", "CO.[I-]", 2, None, None],
    ],
}
PROFILE = """[columns]
id = ["Code"]
start = ["Reactant"]
arrows = ["Electron flow"]
answer = ["Product"]
"""
#: What the certain corrections write.
EXPECTED = {
    ("Autumn", "D7"): "CCS.[I-]",
    ("Autumn", "D8"): "CN.[Cl-]",
    ("Autumn", "D12"): "CCC([O-])O",
    ("Autumn", "D13"): "OC([O-])CCC",
    ("Spring", "D6"): "CO.[Cl-]",
}
FIRST = 5
faults = []


def hold(what, found, expected=True):
    """Notes what does not hold."""
    if found != expected:
        faults.append(f"{what}: {found!r}, not {expected!r}")
        print(f"FAULT {faults[-1]}", flush=True)


def department(path):
    """The workbook."""
    book = openpyxl.Workbook()
    book.remove(book.active)
    for title, rows in SHEETS.items():
        sheet = book.create_sheet(title)
        sheet.append([f"Questions on mechanisms, {title.lower()} term"])
        sheet.merge_cells("A1:G1")
        sheet.append(["Kept by the first-year team"])
        sheet.append([])
        sheet.append(HEADER)
        last = FIRST + len(rows) - 1
        for at, row in enumerate(rows, FIRST):
            sheet.append(row)
            if len(row) > 1:
                sheet.cell(at, 6, f"=E{at}/SUM(E${FIRST}:E${last})").number_format = "0 %"
                sheet.cell(at, 1).data_type = "s"
        sheet.append(["Total", None, None, None, f"=SUM(E{FIRST}:E{last})", None, f"=LEN(D{FIRST + 2})"])
        sheet.append(["Note: points of last year in brackets."])
        sheet["A1"].font = Font(bold=True, size=16)
        for cell in sheet[4]:
            cell.font, cell.fill = Font(bold=True, color="FFFFFF"), PatternFill("solid", fgColor="1F4E78")
        sheet["D7"].fill, sheet["D7"].font = PatternFill("solid", fgColor="FFF2CC"), Font(italic=True, color="9C0006")
        sheet["D7"].comment = Comment("please look at the charge", "M. Orlowska")
        sheet["C8"].alignment = Alignment(wrap_text=True)
        sheet.column_dimensions["B"].width = 30
        sheet.row_dimensions[6].hidden = sheet.column_dimensions["C"].hidden = True
        sheet.freeze_panes = "B5"
        points = DataValidation(type="list", formula1='"1,2,3"')
        sheet.add_data_validation(points)
        points.add("E5:E40")
        sheet.conditional_formatting.add("E5:E40", CellIsRule(operator="greaterThan", formula=["2"], fill=PatternFill("solid", bgColor="C6EFCE")))
    book.defined_names["AutumnPoints"] = DefinedName("AutumnPoints", attr_text="Autumn!$E$5:$E$13")
    book.save(path)


class Trial:
    """One folder, one program, one spreadsheet program."""

    def __init__(self, program, folder):
        self.program, self.folder = program, folder

    def run(self, *arguments, status=None):
        done = subprocess.run([self.program, *map(str, arguments)], cwd=self.folder, capture_output=True, text=True)
        if status is not None:
            hold(" ".join(map(str, arguments)), done.returncode, status)
        return done.stdout + done.stderr

    def office(self, kind, path, out):
        (self.folder / out).mkdir(exist_ok=True)
        profile = f"-env:UserInstallation=file://{self.folder}/office"
        subprocess.run(
            ["soffice", "--headless", profile, "--convert-to", kind, "--outdir", out, str(path)],
            cwd=self.folder, check=True, capture_output=True, timeout=300,
        )

    def shown(self, path, out):
        """What the spreadsheet program shows: the cells of each sheet."""
        self.office("csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1", path, out)
        shown = {}
        for own in sorted((self.folder / out).glob("*.csv")):
            with open(own, newline="", encoding="utf-8") as file:
                rows = list(csv.reader(file))
            sheet = own.stem.rsplit("-", 1)[-1]
            shown[sheet] = {(r, c): cell for r, row in enumerate(rows, 1) for c, cell in enumerate(row, 1) if cell}
        return shown

    def verdicts(self, bank):
        said = " ".join(self.run("audit", bank, "--out", "out", "--write", "csv,xlsx").split())
        hold(f"{bank}: hidden", "the sheet 'Autumn' has rows that are hidden (6) and columns that are hidden: C ('Electron flow'); they are read" in said)
        with open(self.folder / "out/audit.csv", newline="", encoding="utf-8") as file:
            return [(row["file"].split("#")[-1], row["line"], row["item"], row["finding"], row["slip"], row["correction"]) for row in csv.DictReader(file)]


def parts(path):
    with zipfile.ZipFile(path) as file:
        return {own.filename: file.read(own) for own in file.infolist()}


def cells(path):
    """Value or formula, and style, of each cell."""
    book = openpyxl.load_workbook(path)
    found = {}
    for sheet in book:
        for row in sheet.iter_rows():
            for cell in row:
                style = (cell.font.b, cell.font.i, cell.font.sz, cell.fill.fgColor.rgb, cell.number_format, bool(cell.alignment.wrap_text), cell.comment and cell.comment.text)
                found[sheet.title, cell.coordinate] = (cell.value, style)
    return found


def reads_the_same(trial):
    expected = trial.verdicts("bank.xlsx")
    hold("findings of bank.xlsx", len(expected) >= 7)
    for kind in ("ods", "xls"):
        hold(f"findings of bank.{kind}", trial.verdicts(f"bank.{kind}"), expected)
    trial.run("convert", "bank.xlsx", "--to", "xlsx", "--out", "converted.xlsx")
    shown = trial.shown("converted.xlsx", "shown-converted")
    hold("a converted workbook opened", sum(map(len, shown.values())) > 30)


def amends(trial):
    for kind, changed in (("xlsx", {"xl/worksheets/sheet1.xml", "xl/worksheets/sheet2.xml"}), ("ods", {"content.xml"})):
        bank, new = f"bank.{kind}", f"new.{kind}"
        trial.verdicts(bank)
        said = trial.run("amend", bank, "--with", "out/corrections.csv", "--out", new, status=0)
        hold(f"{kind}: corrections", "5 corrections" in said)
        before, after = parts(trial.folder / bank), parts(trial.folder / new)
        hold(f"{kind}: order and names of the parts", list(after), list(before))
        hold(f"{kind}: parts that differ", {name for name in before if before[name] != after.get(name)}, changed)
        if kind == "xlsx":
            old, now = cells(trial.folder / bank), cells(trial.folder / new)
            differ = {place: now.get(place, (None,))[0] for place in old.keys() | now.keys() if old.get(place) != now.get(place)}
            hold("openpyxl: cells that differ", differ, EXPECTED)
            styles = [place for place in old if old[place][1] != now[place][1]]
            hold("openpyxl: styles that differ", styles, [])
        old, now = trial.shown(bank, f"shown-old-{kind}"), trial.shown(new, f"shown-new-{kind}")
        differ = {}
        for sheet in old:
            for place in old[sheet].keys() | now[sheet].keys():
                if old[sheet].get(place) != now[sheet].get(place):
                    differ[sheet, f"{'ABCDEFG'[place[1] - 1]}{place[0]}"] = now[sheet].get(place)
        formulas = {place: differ.pop(place) for place in [("Autumn", "G14"), ("Spring", "G8")] if place in differ}
        hold(f"{kind}: what LibreOffice shows otherwise", differ, EXPECTED)
        print(f"{kind}: {len(EXPECTED)} cells written, {len(before) - len(changed)} of {len(before)} parts byte for byte; formulas that LibreOffice worked out anew: {formulas}")


def decides(trial):
    trial.verdicts("bank.xlsx")
    book = openpyxl.load_workbook(trial.folder / "out/audit.xlsx")
    hold("sheets", book.sheetnames, ["Decisions", "Summary", "Without a question"])
    sheet = book["Decisions"]
    header = [cell.value for cell in sheet[1]]
    hold("frozen", sheet.freeze_panes, "B2")
    hold("filter", sheet.auto_filter.ref, f"A1:Q{sheet.max_row}")
    lists = [(own.formula1, str(own.sqref)) for own in sheet.data_validations.dataValidation]
    hold("list of decisions", lists, [('"accept,keep,ask"', f"M2:M{sheet.max_row}")])
    hold("=1+1 is a text", [cell.data_type for cell in sheet["A"] if cell.value == "=1+1"], ["s"])
    hold("formulas", [cell.coordinate for row in sheet.iter_rows() for cell in row if cell.data_type == "f"], [])
    column = {name: at for at, name in enumerate(header, 1)}
    for row in range(2, sheet.max_row + 1):
        item = sheet.cell(row, column["item"]).value
        if item == "A-02":
            sheet.cell(row, column["decision"], "accept")
        if item == "=1+1":
            sheet.cell(row, column["instead"], "NC.[Cl-]")
        if item == "S-02":
            sheet.cell(row, column["decision"], "keep")
            sheet.cell(row, column["note"], "of the old script")
    book.save(trial.folder / "decided.xlsx")
    trial.office("ods", "decided.xlsx", "saved")
    trial.office("csv", "decided.xlsx", "saved")
    trial.office("xlsx", "decided.xlsx", "saved")
    shown = trial.shown("out/audit.xlsx", "shown-audit")
    hold("LibreOffice opens audit.xlsx", set(shown), {"Decisions", "Summary", "Without a question"})
    hold("LibreOffice: header", [shown["Decisions"].get((1, at)) for at in range(1, 18)], header)
    for name in ("decided.xlsx", "saved/decided.xlsx", "saved/decided.ods", "saved/decided.csv"):
        said = trial.run("amend", "bank.xlsx", "--with", name, "--out", "decided-bank.xlsx", "--write-known", "known.csv", status=0)
        old, now = cells(trial.folder / "bank.xlsx"), cells(trial.folder / "decided-bank.xlsx")
        differ = {place: own[0] for place, own in now.items() if old.get(place) != own}
        hold(f"{name}: cells that differ ({said})", differ, {("Autumn", "D7"): "CCS.[I-]", ("Autumn", "D8"): "NC.[Cl-]"})
        known = trial.folder / "known.csv"
        hold(f"{name}: kept", known.exists() and "of the old script" in known.read_text())
        known.unlink(missing_ok=True)


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("program")
    arguments.add_argument("--keep", type=pathlib.Path)
    arguments = arguments.parse_args()
    folder = pathlib.Path(tempfile.mkdtemp(prefix="spreadsheets-"))
    trial = Trial(str(pathlib.Path(arguments.program).resolve()), folder)
    (folder / "keyassay.toml").write_text(PROFILE)
    department(folder / "made.xlsx")
    # The spreadsheet program works the formulas out and stores their values.
    for kind in ("xlsx", "ods", "xls"):
        trial.office(kind, "made.xlsx", "made")
        shutil.move(folder / f"made/made.{kind}", folder / f"bank.{kind}")
    (folder / "made.xlsx").unlink()
    for step in (reads_the_same, amends, decides):
        step(trial)
    if arguments.keep:
        shutil.copytree(folder, arguments.keep, dirs_exist_ok=True)
    shutil.rmtree(folder)
    print(f"{len(faults)} faults")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
