"""Makes the workbooks of this folder: python make.py (openpyxl), then LibreOffice Calc:
soffice --headless --convert-to xlsx --outdir saved inline.xlsx (then department.xlsx; likewise ods and xls)
`table.csv` is the sheet "Week 3" as a table, to compare with.

python make.py fragen makes `fragen.xlsx`, `.ods` and `.xls` by LibreOffice, and `kapitel.csv`, their two sheets as one table. LibreOffice
writes no `.xlsb`: `fragen.xlsb` is written here, record by record (MS-XLSB), from the cells and values of `fragen.xlsx`.
"""
import csv
import datetime
import struct
import subprocess
import sys
import zipfile

import openpyxl
from openpyxl.comments import Comment
from openpyxl.styles import Font, PatternFill
from openpyxl.worksheet.datavalidation import DataValidation

ROWS = [
    ["Harrow Mere College: question bank"],
    ["compiled by the department"],
    [],
    ["No", "id", "task", "start", "arrows", "answer", "points", "note"],
    ["", "Carbonyls"],
    [1, 7, "step", "[CH2:1]=[O:2]", "1-2 -> 2", "[CH2+:1][O-:2]", 2, "=G6*2"],
    [2, 8, "step", "[CH2:1]=[O:2]", "1-2 -> 2", "[CH2:1]=[O:2]", 2, 'see "x"'],
    [],
    [3, "q3", "resonance", "[CH2:1]=[CH:2][O-:3]", "3 -> 2-3\n1-2 -> 1", "[CH2-:1][CH:2]=[O:3]", 1],
    [4, "q4", "step", "[CH3:1][OH:2]", "1-2 -> 2", None, 1],
    [5, "q5", "step", "[CH3:1][OH:2", "1-2 -> 2", "C", 1],
    ["", "Total", None, None, None, None, "=SUM(G6:G11)"],
]



def department():
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Week 3"
    for row in ROWS:
        sheet.append(row)
    sheet["A1"].font = Font(bold=True)
    notes = book.create_sheet("Notes")
    notes.append(["who", "what"])
    notes.append(["a", "b"])
    old = book.create_sheet("Old")
    old.sheet_state = "hidden"
    for row in ROWS[3:7]:
        old.append(row)
    old["B3"], old["E3"] = "m1", datetime.date(2024, 2, 1)
    old["B4"], old["E4"] = "m2", "#N/A"
    old["E4"].data_type = "e"
    merged = book.create_sheet("Merged")
    merged.append(["id", "start", "arrows", "answer"])
    merged.append(["a", "[NH2:1][CH3:2]", "1-2 -> 1", "[NH2-:1].[CH3+:2]"])
    merged.append(["b", None, "1-2 -> 2", "[NH2+:1].[CH3-:2]"])
    merged.merge_cells("B2:B3")
    book.save("inline.xlsx")
    with open("table.csv", "w", newline="", encoding="utf-8") as file:
        for row in ROWS:
            full = [("" if cell is None or str(cell).startswith("=") else cell) for cell in row]
            csv.writer(file).writerow(full + [""] * (8 - len(full)))


HEADER = ["Nr.", "Kennung", "Edukt", "Elektronenpfeile", "Produkt", "Punkte", "Anteil", "Länge"]
CHAPTERS = {
    "Kapitel 1": [
        ["Substitutionen"],
        [101, "[OH-].CBr", "1 -> 1-2; 2-3 -> 3", "CO.[Br-]", 2],
        [102, "[SH-].CCI", "1 -> 1-3; 3-4 -> 4", "CCS.[I]", 2],
        [103, "[NH2-].CCl", "1 -> 1-2; 2-3 -> 3", "CN.[Cl-]", 3],
        [],
        ["Additionen"],
        [104, "[OH-].CC=O", "1 -> 1-3; 3-4 -> 4", "CC([O-])O", 1],
        [105, "[OH-].CCC=O", "1 -> 1-4; 4-5 -> 5", "CCC([O])O", 1],
        [106, "[OH-].CCCC=O", "1 -> 1-5; 5-6 -> 6", None, 1],
        [107, "[SH-].C=O", "1 -> 1-2; 2-3 -> 3", "C([O-])S", 1],
    ],
    "Kapitel 2": [
        ["Vermischtes"],
        [201, "[SH-].CBr", "1 -> 1-2; 2-3 -> 3", "CS.[Br-]", 2],
        [202, "[OH-].CCCI", "1 -> 1-4; 4-5 -> 5", "CCCO.[I-]", 2],
        [203, "[OH-].CCl", "1 -> 1-2; 2-3 -> 3", "CO.[Cl]", 2],
        [204, "[NH2-].CCBr", "1 -> 1-3; 3-4 -> 5", "CCN.[Br-]", 2],
        [205, "[OH-].CI(", "1 -> 1-2; 2-3 -> 3", "CO.[I-]", 2],
    ],
}


def cells(chapter):
    """The rows of a chapter's sheet: titles, header in row 4, questions with formulas behind them, a total."""
    questions = CHAPTERS[chapter]
    last = 4 + len(questions)
    rows = [[f"Fragensammlung: {chapter}"], ["Stand: Wintersemester"], [], HEADER]
    for at, row in enumerate(questions, 5):
        formulas = [f"=F{at}/F${last + 1}", f"=LEN(E{at})"] if len(row) > 1 else []
        rows.append([at - 4 if formulas else None, *row, *formulas])
    rows.append([None, "Summe", None, None, None, f"=SUM(F5:F{last})", None, f"=SUM(H5:H{last})"])
    return rows


def fragen():
    book = openpyxl.Workbook()
    book.remove(book.active)
    for chapter in CHAPTERS:
        sheet = book.create_sheet(chapter)
        for row in cells(chapter):
            sheet.append(row)
        sheet["A1"].font = Font(bold=True, size=14)
        sheet["E6"].fill = PatternFill("solid", fgColor="FFF2CC")
        sheet["E7"].font = Font(italic=True, color="9C0006")
        sheet["E7"].comment = Comment("bitte prüfen", "Redaktion")
        sheet.column_dimensions["C"].width = 28
        sheet.freeze_panes = "A5"
        points = DataValidation(type="list", formula1='"1,2,3"')
        sheet.add_data_validation(points)
        points.add("F5:F40")
        sheet.merge_cells("A1:D1")
    book.save("fragen.xlsx")
    with open("kapitel.csv", "w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        for chapter in CHAPTERS:
            rows = cells(chapter)
            for row in rows if chapter == "Kapitel 1" else rows[4:]:
                full = ["" if cell is None or str(cell).startswith("=") else cell for cell in row]
                writer.writerow(full + [""] * (8 - len(full)))
    # LibreOffice works the formulas out and stores their values.
    for source, kind in [("fragen.xlsx", "ods"), ("fragen.xlsx", "xls"), ("fragen.ods", "xlsx")]:
        office = ["soffice", "--headless", "-env:UserInstallation=file:///tmp/office-make"]
        subprocess.run([*office, "--convert-to", kind, "--outdir", ".", source], check=True)
    binary()


def record(kind, data=b""):
    head = bytes([kind]) if kind < 128 else bytes([kind & 0x7F | 0x80, kind >> 7])
    length, size = len(data), b""
    while length > 0x7F:
        size += bytes([length & 0x7F | 0x80])
        length >>= 7
    return head + size + bytes([length]) + data


def wide(text):
    return struct.pack("<I", len(text)) + text.encode("utf-16-le")


def binary():
    book = openpyxl.load_workbook("fragen.xlsx", data_only=True)
    sheets = {}
    for sheet in book:
        # BrtBeginSheet, BrtWsDim, BrtBeginSheetData.
        out = record(129) + record(148, struct.pack("<IIII", 0, sheet.max_row - 1, 0, 7)) + record(145)
        for number, row in enumerate(sheet.iter_rows(values_only=True)):
            # BrtRowHdr: row, style, height, flags, one span of columns.
            out += record(0, struct.pack("<IIHBBBI", number, 0, 300, 0, 0, 0, 1) + struct.pack("<II", 0, 7))
            for column, value in enumerate(row):
                place = struct.pack("<II", column, 0)
                if isinstance(value, (int, float)):
                    out += record(5, place + struct.pack("<d", value))
                elif value is not None:
                    out += record(6, place + wide(str(value)))
        # BrtEndSheetData, then BrtBeginMergeCells, BrtMergeCell, BrtEndMergeCells.
        out += record(146) + record(177, struct.pack("<I", 1)) + record(176, struct.pack("<IIII", 0, 0, 0, 3)) + record(178)
        sheets[sheet.title] = out + record(130)
    bundles = b"".join(
        record(156, struct.pack("<II", 0, at) + wide(f"rId{at}") + wide(name)) for at, name in enumerate(sheets, 1)
    )
    xml = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>'
    package = "http://schemas.openxmlformats.org/package/2006/"
    office = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    relations = "".join(
        f'<Relationship Id="rId{at}" Type="{office}/worksheet" Target="worksheets/sheet{at}.bin"/>'
        for at in range(1, len(sheets) + 1)
    )
    parts = {
        "[Content_Types].xml": f'{xml}<Types xmlns="{package}content-types"><Default Extension="rels" ContentType='
        '"application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="bin" ContentType='
        '"application/vnd.ms-excel.sheet.binary.macroEnabled.main"/></Types>',
        "_rels/.rels": f'{xml}<Relationships xmlns="{package}relationships"><Relationship Id="rId1" '
        f'Type="{office}/officeDocument" Target="xl/workbook.bin"/></Relationships>',
        "xl/workbook.bin": record(131) + record(143) + bundles + record(144) + record(132),
        "xl/_rels/workbook.bin.rels": f'{xml}<Relationships xmlns="{package}relationships">{relations}</Relationships>',
    }
    parts.update({f"xl/worksheets/sheet{at}.bin": own for at, own in enumerate(sheets.values(), 1)})
    with zipfile.ZipFile("fragen.xlsb", "w", zipfile.ZIP_DEFLATED) as out:
        for name, content in parts.items():
            out.writestr(zipfile.ZipInfo(name), content)


if __name__ == "__main__":
    fragen() if "fragen" in sys.argv[1:] else department()
