"""Odd tables for `tables.py`: each has something that makes its columns hard to tell. Name, bytes, ending, items, faulty items, how ids begin."""
import csv
import io
import re

#: Start, arrows, answer: elementary steps and contributors of many kinds.
QUESTIONS = [
    ("[OH-].CCBr", "1 -> 1-2h; 2-2h -> 2-3; 3-4 -> 4", "O.C=C.[Br-]"),
    ("C=O", "1-2 -> 2", "[CH2+][O-]"),
    ("[CH2-]C=O", "1 -> 1-2; 2-3 -> 3", "C=C[O-]"),
    ("N.[H+]", "1 -> 1-2", "[NH4+]"),
    ("N.CC=O", "1 -> 1-3; 3-4 -> 4", "[NH3+]C(C)[O-]"),
    ("[CH3-].C=CC=O", "1 -> 1-2; 2-3 -> 3-4; 4-5 -> 5", "CCC=C[O-]"),
    ("CC(C)(C)Br", "2-5 -> 5", "C[C+](C)C.[Br-]"),
    ("C[C+](C)C.[OH-]", "5 -> 2-5", "CC(C)(C)O"),
    ("C=CC=C.C=C", "1-2 -> 2-3; 3-4 -> 4-5; 5-6 -> 1-6", "C1=CCCCC1"),
    ("NC=O", "1 -> 1-2; 2-3 -> 3", "[NH2+]=C[O-]"),
    ("C[S-].CI", "2 -> 2-3; 3-4 -> 4", "CSC.[I-]"),
    ("[OH-].CC(=O)Cl", "1 -> 1-3; 3-4 -> 4", "CC([O-])(O)Cl"),
    ("CC([O-])(O)Cl", "3 -> 2-3; 2-5 -> 5", "CC(=O)O.[Cl-]"),
    ("N#[C-].CBr", "2 -> 2-3; 3-4 -> 4", "N#CC.[Br-]"),
    ("[OH-].C1CO1", "1 -> 1-2; 2-4 -> 4", "OCC[O-]"),
    ("C[S+](C)[CH2-]", "4 -> 2-4", "CS(C)=C"),
    ("CCl.[I-]", "3 -> 3-1; 1-2 -> 2", "CI.[Cl-]"),
    ("CC(=O)C.[H+]", "3 -> 3-5", "CC(=[OH+])C"),
]


def shifted(arrows):
    """The arrows with atoms counted from 0."""
    return re.sub(r"(?<![h\d])\d+", lambda own: str(int(own[0]) - 1), arrows)


def spelt(arrows, at):
    """The arrows in spellings of their own."""
    ways = [
        lambda own: own.replace("->", "=>"),
        lambda own: ", ".join(own.split("; ")),
        lambda own: "\n".join(f"{number}) {arrow}" for number, arrow in enumerate(own.split("; "), 1)),
        lambda own: " and ".join(own.split("; ")).replace("->", "→"),
        lambda own: own.replace("->", "\u2192").replace("-", "\u2013"),
        lambda own: re.sub(r"(\d)-(\d)", r"(\1-\2)", own),
    ]
    return ways[at % len(ways)](arrows)


def wrong(answer):
    return answer + ".C"


def text(rows, separator=",", encoding="utf-8", newline="\n", quoting=csv.QUOTE_MINIMAL):
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator=newline, quoting=quoting).writerows(rows)
    return out.getvalue().encode(encoding)


def questions(every=0):
    """Each question with its number; every n-th answer is wrong."""
    for number, (start, arrows, answer) in enumerate(QUESTIONS, 1):
        yield number, start, arrows, wrong(answer) if every and number % every == 0 else answer


def cases():
    rows = [["Lp.", "Rozdział", "Punkty", "Uwagi", "Cząstki przed", "Ruch elektronów", "Cząstki po"]]
    rows += [[4000 + n, "ABC"[n % 3], f"{n % 4},5", "C" if n % 5 else "sprawdzić", s, shifted(a), p] for n, s, a, p in questions(6)]
    yield "Polish, number ids, points with commas, from 0", text(rows, ";", "utf-8", "\r\n"), ".csv", 18, 3, "4"

    rows = [["Typical error", "After", "Before", "Curly arrows", "Comment", "MW"]]
    rows += [[wrong(p), p, s, a, "no comment" if n % 2 else "CO2 leaves", f"{40 + n}.0{n}"] for n, s, a, p in questions(9)]
    yield "English, answer before start, a column of typical errors", text(rows), ".csv", 18, 2, ""

    rows = [["解答例", "出発構造", "電子の動き", "配点", "通し番号"]]
    rows += [[p, s, spelt(a, n), n % 3 + 1, 700 + n] for n, s, a, p in questions(6)]
    yield "Japanese, answer first, arrows in other spellings, points", text(rows), ".csv", 18, 3, "7"

    rows = [["№ п/п", "Что получилось", "Исходная частица", "Перемещения", "Балл", "Сложность"]]
    rows += [[n, p, s, a, 5, "высокая"] for n, s, a, p in questions(4)]
    yield "Russian, running number, points all the same", text(rows, "\t"), ".tsv", 18, 4, ""

    rows = [["Scheda", "Struttura", "Spostamenti", "Scelta 1", "Scelta 2", "Scelta 3", "Scelta 4", "Giusta", "Punti"]]
    for n, s, a, p in questions():
        drawn = [s, wrong(p), p.replace("C", "CC", 1) if "C" in p else "C" + p, "O." + p]
        place = n * 5 % 4
        drawn[place] = p
        keyed = (place + (n % 6 == 0)) % 4
        rows.append([f"M{n}", s, a, *drawn, "abcd"[keyed] + ")", n % 2 + 1])
    yield "Italian, options with a letter key, the start among them", text(rows, ";"), ".csv", 18, 3, "M"

    rows = [["Num", "Dessin initial", "Flèches courbes", "Dessin final", "Barème", "Temps (min)"]]
    rows += [[n, s, a, p, n % 3 + 1, n + 1] for n, s, a, p in questions(5)]
    yield "French, three columns of numbers", text(rows, ";", "cp1252", "\r\n"), ".csv", 18, 3, ""

    rows = [[f"{s}", f"{p}", spelt(a, n), f"item {n}"] for n, s, a, p in questions(6)]
    yield "no header, arrows in other spellings", text(rows, "\t"), ".tsv", 18, 3, "item"

    rows = [["Reaktion", "Schritt", "Struktur", "Pfeile", "Struktur danach", "Hinweis"]]
    for n in range(1, 10):
        halogen, chain = ["Cl", "Br", "I"][n % 3], "C" * (n % 4 + 1)
        a, c = len(chain) + 1, len(chain) + 2
        middle = f"{chain}C(O)([O-]){halogen}"
        rows.append([f"R{n}", 1, f"{chain}C(=O){halogen}.[OH-]", f"{c + 2} -> {c + 2}-{a}; {a}-{c} -> {c}", middle, "Addition"])
        after = f"{chain}C(=O)O.[{halogen}-]"
        rows.append(["", 2, "", f"{a + 2} -> {a + 2}-{a}; {a}-{a + 3} -> {a + 3}", wrong(after) if n % 3 == 0 else after, "Zerfall"])
    yield "German, steps, the id and the start only once", text(rows, ";"), ".csv", 9, 3, "R"

    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Banco"
    sheet.append(["Banco de preguntas: mecanismos"])
    sheet.merge_cells("A1:F1")
    sheet.append(["", "Estructuras", "", "", "Otros", ""])
    sheet.merge_cells("B2:D2")
    sheet.append(["Clave", "de", "movimientos", "a", "puntos", "autor"])
    for n, s, a, p in questions(6):
        if n % 7 == 1:
            sheet.append([f"Bloque {n // 7 + 1}"])
        sheet.append([9000 + n, s + "\u00a0", a.replace("; ", ";\n"), " " + p, n % 3, "ML"])
    sheet.append(["Total", None, None, None, "=SUM(E4:E24)"])
    out = io.BytesIO()
    book.save(out)
    yield "Spanish workbook, two rows of header, merged title, blocks", out.getvalue(), ".xlsx", 18, 3, "9"

    rows = [["번호", "이름", "SMILES", "전자 이동", "SMILES", "오답", "비고"]]
    rows += [[f"가-{n}", f"반응 {n}", s, a, p, "CC(=O)O" if n % 2 else "C=C", "CCO" if n % 3 else ""] for n, s, a, p in questions(6)]
    yield "Korean, the same header twice, structures in a column of remarks", text(rows, ",", "utf-16"), ".csv", 18, 3, "가"

    rows = [["Opgave", "Sleutel", "Beginstructuur", "Pijltjes", "Keuzes"]]
    for n, s, a, p in questions():
        drawn = [wrong(p), "O." + p, p + ".Cl"]
        place = n % 3
        drawn.insert(place, p)
        rows.append([f"v{n}", (place + (n % 9 == 0)) % 4 + 1, s, a, " ".join(drawn)])
    yield "Dutch, options in one cell, the key a number", text(rows, ";"), ".csv", 18, 2, "v"

    labelled = [(re.sub(r"\bC\b", "C", s), a, p) for s, a, p in QUESTIONS]
    rows = [["Kod", "Açıklama", "Ürün", "Başlangıç", "Oklar"]]
    rows += [[f"T-{n}", "Bağ kırılır ve oluşur.", wrong(p) if n % 6 == 0 else p, s, re.sub(r"(\d+-\d+h?)", r"(\1)", a) if n % 2 else a] for n, (s, a, p) in enumerate(labelled, 1)]
    yield "Turkish, product before start, arrows in brackets", text(rows, ",", quoting=csv.QUOTE_ALL), ".csv", 18, 3, "T-"
