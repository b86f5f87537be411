#!/usr/bin/env python3
"""Tables as departments keep them, in many languages and shapes, through `keyassay profile`: what it guesses, right or wrong.

    tests/trials/tables.py PROGRAM [--show NAME]

A table counts as right if the profile reads it as its author means it: as many items as it has questions, the planted wrong
answers faulty and everything else sound, under the ids that it has. Exit status 1 if fewer than nine in ten are right.
"""
import csv
import io
import json
import pathlib
import subprocess
import sys
import tempfile

import odd_tables

NUCLEOPHILES = [("[OH-]", 1, "O"), ("[SH-]", 1, "S"), ("[NH2-]", 1, "N"), ("[C-]#N", 2, "C#N")]
HALOGENS = ["Cl", "Br", "I"]


def substitution(chain, nucleophile, halogen, labelled=False, zero=False):
    written, atoms, tail = nucleophile
    carbon, leaving = atoms + chain, atoms + chain + 1
    base = -1 if zero else 0
    start = written + "." + "C" * chain + halogen
    if labelled and atoms == 1:
        start = written[:-1] + ":1].[CH3:2][%s:3]" % halogen
        carbon, leaving, chain = 2, 3, 1
    a, b, c = 1 + base, carbon + base, leaving + base
    return start, f"{a} -> {a}-{b}; {b}-{c} -> {c}", "C" * chain + tail + f".[{halogen}-]"


def addition(chain, zero=False):
    base = -1 if zero else 0
    carbon, oxygen = 2 + chain + base, 3 + chain + base
    return "[OH-]." + "C" * chain + "C=O", f"{1 + base} -> {1 + base}-{carbon}; {carbon}-{oxygen} -> {oxygen}", "C" * chain + "C([O-])O"


def pool(count, zero=False, labelled=False):
    items = []
    for chain in range(1, 9):
        for nucleophile in NUCLEOPHILES:
            for halogen in HALOGENS:
                if labelled and (nucleophile[1] > 1 or chain > 1):
                    continue
                items.append(substitution(chain, nucleophile, halogen, labelled, zero))
        if not labelled:
            items.append(addition(chain, zero))
    while len(items) < count:
        items += items
    return items[:count]


def write(rows, separator=",", encoding="utf-8", newline="\n"):
    out = io.StringIO()
    csv.writer(out, delimiter=separator, lineterminator=newline).writerows(rows)
    return out.getvalue().encode(encoding)


def wrong(answer):
    return answer.replace(".[", ".C[", 1) if ".[" in answer else answer + "C"


def table(header, order, count=30, faults=0, titles=(), extra=None, **kind):
    """Rows of the columns in `order` (i id, s start, a arrows, p product, e extra, - blank); every n-th answer is wrong."""
    rows = [list(row) for row in titles]
    if header:
        rows.append(header)
    ids = []
    for number, (start, arrows, product) in enumerate(pool(count, **kind), 1):
        own = f"Q{number:03}"
        if faults and number % faults == 0:
            product = wrong(product)
        cells = {"i": own, "s": start, "a": arrows, "p": product, "n": str(number), "-": "", "t": "step"}
        cells.update((extra or (lambda number, start: {}))(number, start))
        rows.append([cells[name] for name in order])
        ids.append(own)
    return rows


def cases():
    reagents = ["[Na+].[OH-]", "CCO", "O", "[K+].[I-]", "ClCCl"]
    reagent = lambda number, start: {"r": reagents[number % 5], "q": f"What is formed in reaction {number} of the sheet?",
                                     "c": ["Carbonyls", "Halides"][number % 2], "x": str(number % 4 + 1)}
    yield "english", write(table(["ID", "Reactant", "Arrows", "Product"], "isap")), ".csv", 30, 0, "Q"
    yield "german", write(table(["Nr.", "Edukt", "Pfeile", "Produkt"], "isap"), ";"), ".csv", 30, 0, "Q"
    yield "german, Windows-1252", write(table(["Nr.", "Ausgangsstoff (Lösung)", "Elektronenflüsse", "Endprodukt"], "isap"), ";", "cp1252", "\r\n"), ".csv", 30, 0, "Q"
    yield "french", write(table(["Numéro", "Réactif", "Flèches", "Produit attendu"], "isap", faults=5), ";"), ".csv", 30, 6, "Q"
    yield "spanish", write(table(["Código", "Sustrato", "Flechas", "Respuesta"], "ipas", faults=5)[:1] + table(None, "ipas", faults=5)), ".csv", 30, 6, "Q"
    yield "italian", write(table(["Numero", "Prodotto", "Frecce", "Substrato"], "ipas")), ".csv", 30, 0, "Q"
    yield "portuguese", write(table(["Produto", "Setas", "Reagente", "Código"], "pasi", faults=5)), ".csv", 30, 6, "Q"
    yield "polish", write(table(["Numer", "Substrat", "Strzałki", "Produkt", "Punkty"], "isapx", extra=reagent)), ".csv", 30, 0, "Q"
    yield "russian", write(table(["Номер", "Исходное", "Стрелки", "Продукт"], "isap"), "\t"), ".tsv", 30, 0, "Q"
    yield "chinese", write(table(["题号", "反应物", "箭头", "产物"], "isap", faults=5)), ".csv", 30, 6, "Q"
    yield "japanese", write(table(["番号", "問題文", "出発物質", "矢印", "生成物"], "iqsap", extra=reagent)), ".csv", 30, 0, "Q"
    yield "korean, UTF-16", b"\xff\xfe" + write(table(["번호", "출발물질", "화살표", "생성물"], "isap"), "\t").decode().encode("utf-16-le"), ".csv", 30, 0, "Q"
    yield "dutch, titles", write(table(["Nr", "Uitgangsstof", "Pijlen", "Antwoord"], "isap", titles=[["Vragenbank 2019"], [], ["samengesteld door de vakgroep"]])), ".csv", 30, 0, "Q"
    yield "no header", write(table(None, "isap", faults=5)), ".csv", 30, 6, "Q"
    yield "no header, swapped", write(table(None, "pais"), ";"), ".csv", 30, 0, "Q"
    yield "no header, bars", write(table(None, "sapi", faults=5), "|"), ".csv", 30, 6, "Q"
    yield "counted from 0", write(table(["id", "start", "arrows", "answer"], "isap", zero=True)), ".csv", 30, 0, "Q"
    yield "counted from 0, no header", write(table(None, "iasp", zero=True, faults=5)), ".csv", 30, 6, "Q"
    yield "labels", write(table(["Item", "From", "Curly arrows", "To"], "isap", count=9, labelled=True)), ".csv", 9, 0, "Q"
    yield "reagents between", write(table(["No", "Question", "Chapter", "Substrate", "Reagent", "Arrows", "Solvent", "Result"], "iqcsrarp".replace("arp", "a") + "rp", extra=reagent, faults=5)), ".csv", 30, 6, "Q"
    yield "the same header twice", write(table(["Nr", "SMILES", "Pfeile", "SMILES"], "isap")), ".csv", 30, 0, "Q"
    yield "running number and code", write(table(["No.", "Code", "Structure 1", "Mechanism", "Structure 2"], "nisap")), ".csv", 30, 0, "Q"
    yield "unanswered", write(table(["Nr", "Edukt", "Pfeile", "Produkt"], "isa-")), ".csv", 30, None, "Q"

    def options(header, key):
        rows = [header] if header else []
        for number, (start, arrows, product) in enumerate(pool(30), 1):
            drawn = [wrong(product), product + ".C", product.replace("C", "CC", 1), "O" + wrong(product)]
            at = number * 7 % 4
            drawn[at] = product
            keyed = (at + (1 if number % 5 == 0 else 0)) % 4
            rows.append([f"Q{number:03}", start, arrows, *drawn, "ABCD"[keyed] if key == "letter" else str(keyed + 1)])
        return rows
    yield "options, German", write(options(["Nr", "Start", "Pfeile", "Wahl 1", "Wahl 2", "Wahl 3", "Wahl 4", "Richtig"], "letter"), ";"), ".csv", 30, 6, "Q"
    yield "options, no header, numbers", write(options(None, "number")), ".csv", 30, 6, "Q"

    steps = [["Frage", "Schritt", "Edukt", "Pfeile", "Zwischenstufe"]]
    for number in range(1, 13):
        halogen = HALOGENS[number % 3]
        chain = number % 4 + 1
        first = "[H]O[H]." + "C" * chain + "C=O" if False else f"[OH-].{'C' * chain}C(=O){halogen}"
        a, b, c = chain + 2, chain + 3, chain + 4
        middle = f"O{'C' * 0}C([O-])({halogen}){'C' * chain}"
        steps.append([f"Q{number:03}", "1", first, f"1 -> 1-{a}; {a}-{b} -> {b}", middle])
        steps.append([f"Q{number:03}", "2", "" if number % 2 else middle, "3 -> 2-3; 2-4 -> 4", f"OC(=O){'C' * chain}.[{halogen}-]"])
    yield "steps, German", write(steps, ";"), ".csv", 12, 0, "Q"

    lines = "".join(json.dumps({"nummer": f"Q{number:03}", "edukt": start, "pfeile": arrows.split("; "), "produkt": product}) + "\n"
                    for number, (start, arrows, product) in enumerate(pool(30), 1))
    yield "JSON Lines, German", lines.encode(), ".jsonl", 30, 0, "Q"
    try:
        import openpyxl
    except ImportError:
        return
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "Übersicht"
    sheet.append(["Inhalt"])
    for name, order in (("Kapitel 1", "isap"), ("Kapitel 2", "pasi")):
        header = {"i": "Kennung", "s": "Edukt", "a": "Pfeile", "p": "Produkt"}
        own = book.create_sheet(name)
        own.append(["Fragen zur " + name])
        own.append([])
        own.append([header[letter] for letter in order])
        for row in table(None, order, count=15, faults=5):
            own.append([cell.replace("Q", name[-1] + "Q") if cell.startswith("Q") else cell for cell in row])
        own.append(["Summe", 15])
    out = io.BytesIO()
    book.save(out)
    yield "workbook, German, two sheets", out.getvalue(), ".xlsx", 30, 6, ""


def main():
    program, *rest = sys.argv[1:]
    program = str(pathlib.Path(program).resolve())
    show = rest[1] if rest[:1] == ["--show"] else None
    right, all_cases = 0, [*cases(), *odd_tables.cases()]
    print("| table | guessed | items | faulty | right |\n|---|---|---|---|---|")
    for name, content, ending, items, faulty, prefix in all_cases:
        with tempfile.TemporaryDirectory() as folder:
            folder = pathlib.Path(folder)
            bank = folder / ("bank" + ending)
            bank.write_bytes(content)
            profile = subprocess.run([program, "profile", bank.name], cwd=folder, capture_output=True, text=True)
            if show == name:
                print(content[:600], profile.stdout, profile.stderr)
            (folder / "keyassay.toml").write_text(profile.stdout, encoding="utf-8")
            audit = subprocess.run([program, "audit", bank.name, "--out", "out", "--write", "json", "--all"], cwd=folder, capture_output=True, text=True)
            totals, ids = {}, set()
            try:
                report = json.loads((folder / "out/audit.json").read_text(encoding="utf-8"))
                totals = report["totals"]
                ids = {finding["item"] for finding in report["findings"]}
            except OSError:
                pass
            if show == name:
                print(audit.stdout, audit.stderr)
            settings = [line.split("#")[0].strip() for line in profile.stdout.splitlines() if line and not line.startswith(("#", "["))]
            good = totals.get("items") == items and all(own.startswith(prefix) for own in ids)
            if faulty is None:
                good &= totals.get("unreadable") == items and "missing-field" in totals.get("findings", {})
            else:
                good &= totals.get("faulty") == faulty and totals.get("sound") == items - faulty
            right += good
            print(f"| {name} | `{'; '.join(settings)}` | {totals.get('items')} of {items} | {totals.get('faulty')} | {'yes' if good else '**no**'} |")
    print(f"\n{right} of {len(all_cases)} right")
    return 0 if right * 10 >= len(all_cases) * 9 else 1


if __name__ == "__main__":
    sys.exit(main())
