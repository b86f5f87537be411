"""Makes the workbooks of this folder: python make.py (openpyxl), then LibreOffice Calc:
soffice --headless --convert-to xlsx --outdir saved inline.xlsx (then department.xlsx; likewise ods and xls)
`table.csv` is the sheet "Week 3" as a table, to compare with."""
import csv
import datetime
import openpyxl
from openpyxl.styles import Font

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
