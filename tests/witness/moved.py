"""A bank that was moved: written again by `convert` and by RDKit, and then with changes sown into it; is each told, and nothing else?

    moved.py PROGRAM STEPS.jsonl [SEED [FOLDER]]      FOLDER keeps the banks

The bank has 3,000 items: published steps, choices and sets of contributors made of them and of `corpus/witness`, and random questions,
many of them faulty. RDKit writes each again: atoms in another order, other labels or none, hydrogens drawn out, other Kekulé forms,
arrows in another order and another spelling; in CSV, JSON Lines, CML, QTI and as a workbook. Status 1 where an item that only was
written again is told as anything but `same` or `rewritten`, or a sown change is not told with its field.
"""

from __future__ import annotations

import csv
import io
import json
import random
import re
import subprocess
import sys
import tempfile
import zipfile
from collections import Counter
from dataclasses import dataclass, field, replace
from html import escape
from pathlib import Path

from rdkit import Chem, RDLogger

from frozen import WITNESS

SIZE, SPARE = 3_000, 20
SOWN = {"answer": 50, "arrows": 50, "start": 50, "key": 20, "lost": 20, "renamed": 50}
READING = Chem.SmilesParserParams()
READING.removeHs, READING.sanitize = False, False
Place = tuple[str, ...]


def drawing(smiles: str) -> Chem.RWMol:
    """A drawing as it stands; the name of each atom, its class or its position, as a property."""
    found = Chem.MolFromSmiles(smiles, READING)
    if found is None:
        raise ValueError(smiles)
    found.UpdatePropertyCache(strict=False)
    has_classes = any(atom.GetAtomMapNum() for atom in found.GetAtoms())
    for atom in found.GetAtoms():
        number = atom.GetAtomMapNum() if has_classes else atom.GetIdx() + 1
        atom.SetProp("name", str(number) if number else f"_{atom.GetIdx()}")
    return Chem.RWMol(found)


@dataclass
class Item:
    """One question; places of arrows are names of atoms, with `h` for hydrogens that are not drawn."""

    id: str
    task: str
    start: str
    arrows: list[tuple[str, Place, Place]] = field(default_factory=list)
    answer: str = ""
    options: list[str] = field(default_factory=list)
    key: str = ""
    answers: list[str] = field(default_factory=list)
    omits: str = ""
    text: str = ""

    def written_arrows(self) -> str:
        return self.text or "; ".join(f"{'-'.join(tail)} {sign} {'-'.join(head)}" for sign, tail, head in self.arrows)


def read_arrows(text: str) -> list[tuple[str, Place, Place]]:
    found = []
    for part in filter(str.strip, re.split(r"[;\n]", text)):
        tail, sign, head = re.split(r"(->|~>|→)", part)
        place = lambda own: tuple(name.strip() for name in own.split("-"))  # noqa: E731
        found.append(("~>" if sign == "~>" else "->", place(tail), place(head)))
    return found


def bank(steps: Path, rng: random.Random) -> tuple[list[Item], list[Item]]:
    """The items, and spare ones to be added."""
    items = []
    for line in (WITNESS / "differential.jsonl").read_text(encoding="utf-8").splitlines():
        own = json.loads(line)
        items.append(Item(own["id"], own["task"], own["start"], read_arrows(own["arrows"]), own["answer"]))
    published = [json.loads(line) for line in steps.read_text(encoding="utf-8").splitlines()]
    answers = [own["answer"] for own in published]
    choices = []
    for at, own in enumerate(published):
        made = Item(own["id"], "step", own["start"], read_arrows(own["arrows"]), own["answer"])
        items.append(made)
        if at % 4:
            options = [own["answer"], *rng.sample([other for other in answers if other != own["answer"]], 3)]
            rng.shuffle(options)
            key = "ABCD"[options.index(own["answer"])]
            bare = [re.sub(r":\d+\]", "]", option) for option in options]
            choices.append(replace(made, id=f"choice-{at}", answer="", options=bare, key=key))
    items += choices
    for line in (WITNESS / "compounds.jsonl").read_text(encoding="utf-8").splitlines():
        own = json.loads(line)
        listed = own["contributors"]
        if 2 <= len(listed) <= 8:
            items.append(Item(f"set of {own['id']}", "contributors", own["start"], answers=listed))
    seen, kept = set(), []
    for own in items:
        asked = (own.start, own.written_arrows(), own.answer, tuple(own.options), tuple(own.answers))
        if asked not in seen:
            seen.add(asked)
            kept.append(own)
    rng.shuffle(kept)
    return kept[:SIZE], kept[SIZE : SIZE + SPARE]


def shuffled(found: Chem.Mol, rng: random.Random) -> Chem.Mol:
    order = list(range(found.GetNumAtoms()))
    rng.shuffle(order)
    return Chem.RenumberAtoms(found, order)


def other_form(found: Chem.Mol, names: set[str]) -> Chem.Mol:
    """Another Kekulé form, where no named atoms are ends of an aromatic bond."""
    whole = Chem.Mol(found)
    try:
        Chem.SanitizeMol(whole, Chem.SANITIZE_ALL ^ Chem.SANITIZE_ADJUSTHS ^ Chem.SANITIZE_CLEANUP)
    except ValueError:
        return found
    charges = lambda of: [(a.GetFormalCharge(), a.GetTotalNumHs(), a.GetNumRadicalElectrons() % 2) for a in of.GetAtoms()]  # noqa: E731
    aromatic = [bond for bond in whole.GetBonds() if bond.GetIsAromatic()]
    touched = any({bond.GetBeginAtom().GetProp("name"), bond.GetEndAtom().GetProp("name")} <= names for bond in aromatic)
    if not aromatic or touched:
        return found
    try:
        Chem.Kekulize(whole, clearAromaticFlags=True)
    except ValueError:
        return found
    return whole if [own[:2] for own in charges(whole)] == [own[:2] for own in charges(found)] else found


def written(found: Chem.Mol, labels: dict[str, int]) -> str:
    """Unlabelled where there are no labels; the order of the atoms is that of the molecule as far as SMILES allows."""
    plain = Chem.Mol(found)
    for atom in plain.GetAtoms():
        atom.SetAtomMapNum(labels.get(atom.GetProp("name"), 0))
    return Chem.MolToSmiles(plain, canonical=False, allHsExplicit=True)


def plain_form(found: Chem.Mol) -> Chem.Mol:
    """Bonds that are localised stay so in the text: their flags call nothing aromatic."""
    for part in (*found.GetAtoms(), *found.GetBonds()):
        if isinstance(part, Chem.Bond) and part.GetBondType() == Chem.BondType.AROMATIC:
            return found
    for part in (*found.GetAtoms(), *found.GetBonds()):
        part.SetIsAromatic(False)
    return found


def with_hydrogens(found: Chem.RWMol, names: set[str]) -> None:
    """Draws out the hydrogens that are named `7h`, each an atom of that name."""
    for name in sorted(names):
        parent, h, _ = name.partition("h")
        if not h:
            continue
        atom = next(atom for atom in found.GetAtoms() if atom.GetProp("name") == parent)
        count = atom.GetTotalNumHs() - 1
        atom.SetNoImplicit(True)
        atom.SetNumExplicitHs(count)
        drawn = Chem.Atom(1)
        drawn.SetNoImplicit(True)
        at = found.AddAtom(drawn)
        found.GetAtomWithIdx(at).SetProp("name", name)
        found.AddBond(atom.GetIdx(), at, Chem.BondType.SINGLE)
    found.UpdatePropertyCache(strict=False)


def rewritten(own: Item, rng: random.Random, draw_out: bool) -> Item:
    """The same question and answer, written otherwise."""
    made = replace(own)
    if draw_out:
        # Elements and bonds that a document has no words for stay away.
        if "$" in own.start:
            return made
    try:
        start = drawing(own.start)
    except ValueError:
        return made
    names = {name for _, tail, head in own.arrows for name in (*tail, *head)}
    canonical = {name: name[:-1] if name.endswith("h1") else name for name in names}
    arrows = [(sign, tuple(canonical[n] for n in tail), tuple(canonical[n] for n in head)) for sign, tail, head in own.arrows]
    names = set(canonical.values())
    known = {atom.GetProp("name") for atom in start.GetAtoms()}
    is_labelled = any(atom.GetAtomMapNum() for atom in start.GetAtoms())
    if not {name.partition("h")[0] for name in names} <= known or (is_labelled and not all(name.isdigit() for name in known)):
        return made
    if draw_out or rng.random() < 0.3:
        with_hydrogens(start, names)
    # In `resonance` a contributor is a drawing; elsewhere rings may be drawn in any form.
    any_form = own.task == "step"
    start = shuffled(start, rng)
    if any_form and rng.random() < 0.7:
        start = Chem.RWMol(other_form(start, {name.partition("h")[0] for name in names}))
    plain_form(start)
    atoms = [atom.GetProp("name") for atom in start.GetAtoms()]
    # Answers that carry labels keep them only with labels on the start.
    keeps_labels = is_labelled or own.task == "contributors" or draw_out
    if keeps_labels or rng.random() < 0.5:
        labels = dict(zip(atoms, rng.sample(range(1, 3 * len(atoms) + 5), len(atoms)), strict=True))
        made.start = written(start, labels)
        called = {name: str(label) for name, label in labels.items()}
    else:
        # Positions are those of the text, which need not be the order of the molecule.
        text, labels = Chem.Mol(start), {}
        for atom in text.GetAtoms():
            atom.SetAtomMapNum(0)
        made.start = Chem.MolToSmiles(text, canonical=False, allHsExplicit=True)
        order = list(text.GetPropsAsDict(True, True)["_smilesAtomOutputOrder"])
        called = {atoms[at]: str(place) for place, at in enumerate(order, 1)}
    made.arrows = [(sign, renamed(tail, called), renamed(head, called)) for sign, tail, head in arrows]
    rng.shuffle(made.arrows)
    made.arrows = [(sign, turned(tail, rng), turned(head, rng)) for sign, tail, head in made.arrows]
    symbols = {called[atom.GetProp("name")]: atom.GetSymbol() for atom in start.GetAtoms()}
    made.text = spelt(made.arrows, symbols, rng)
    same = lambda text: other_drawing(text, labels if is_labelled else {}, rng, any_form)  # noqa: E731
    if own.answer:
        made.answer = same(own.answer)
    made.options = [same(option) for option in own.options]
    if own.key:
        at = "ABCD".index(own.key)
        made.key = rng.choice(["ABCD"[at], "abcd"[at], str(at + 1), f"({'abcd'[at]})", f"Option {at + 1}"])
    if own.answers:
        made.answers = [other_drawing(answer, labels, rng, False) for answer in own.answers]
        rng.shuffle(made.answers)
    return made


def renamed(place: Place, called: dict[str, str]) -> Place:
    """The new names; an undrawn hydrogen goes by its atom."""
    return tuple(called.get(name) or called[name.partition("h")[0]] + name[name.index("h") :] for name in place)


def turned(place: Place, rng: random.Random) -> Place:
    return tuple(reversed(place)) if rng.random() < 0.5 else place


def spelt(arrows: list[tuple[str, Place, Place]], symbols: dict[str, str], rng: random.Random) -> str:
    """One of the spellings in which people write arrows."""
    style = rng.choice(["plain", "arrow", "lines", "tight", "fat", "to", "numbered", "and", "bonds", "symbols"])
    if any(sign == "~>" for sign, _, _ in arrows) and style in {"fat", "to", "numbered", "and", "arrow"}:
        style = "plain"
    name = (lambda own: symbols.get(own.partition("h")[0], "") + own) if style == "symbols" else (lambda own: own)
    join = rng.choice(["=", "-"]) if style == "bonds" else "-"
    place = lambda own: join.join(map(name, own)) if style != "bonds" or len(own) == 1 else f"({join.join(own)})"  # noqa: E731
    shaft = {"arrow": " → ", "tight": "->", "fat": " => ", "to": " to "}.get(style, " -> ")
    parts = [f"{place(tail)}{' ~> ' if sign == '~>' else shaft}{place(head)}" for sign, tail, head in arrows]
    if style == "numbered":
        return " ".join(f"{at}) {part}" for at, part in enumerate(parts, 1))
    return {"lines": "\n", "tight": ";", "and": " and "}.get(style, "; ").join(parts)


def other_drawing(text: str, labels: dict[str, int], rng: random.Random, any_form: bool) -> str:
    """A drawing with its atoms in another order and, where it has labels, under the new ones."""
    found = drawing(text)
    has_labels = any(atom.GetAtomMapNum() for atom in found.GetAtoms())
    found = shuffled(found, rng)
    if any_form:
        found = other_form(found, set())
    plain_form(found)
    return written(found, labels if has_labels else {})


def is_drawn_out(own: Item) -> bool:
    """Whether a document can name all atoms of its arrows and has words for its bonds."""
    named = {name for _, tail, head in own.arrows for name in (*tail, *head)}
    known = {atom.GetProp("name") for atom in drawing(own.start).GetAtoms()}
    # Atoms without labels beside others that have them are no names either.
    return named <= known and all(map(str.isdigit, known)) and not any("$" in text for text in (own.start, own.answer, *own.answers, *own.options))


# Formats, written here.


def as_csv(items: list[Item]) -> bytes:
    text = io.StringIO()
    rows = csv.writer(text)
    rows.writerows(table(items))
    return text.getvalue().encode()


def table(items: list[Item]) -> list[list[str]]:
    head = ["id", "task", "start", "arrows", "answer", "answers", "option_a", "option_b", "option_c", "option_d", "key"]
    pad = lambda own: [*own.options, "", "", "", ""][:4]  # noqa: E731
    rows = [[own.id, own.task, own.start, own.written_arrows(), own.answer, " ".join(own.answers), *pad(own), own.key] for own in items]
    return [head, *rows]


def fields(own: Item) -> dict[str, object]:
    found: dict[str, object] = {"id": own.id, "task": own.task, "start": own.start}
    listed = {"arrows": own.written_arrows(), "answer": own.answer, "answers": own.answers, "options": own.options, "key": own.key}
    return {**found, **{name: text for name, text in listed.items() if text}}


def as_jsonl(items: list[Item]) -> bytes:
    return "".join(json.dumps(fields(own)) + "\n" for own in items).encode()


def as_xlsx(items: list[Item]) -> bytes:
    import openpyxl

    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("Bank")
    for row in table(items):
        sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def as_qti(items: list[Item]) -> bytes:
    """A package of 2.1 whose items hold their fields as data."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        listed = "".join(
            f'<resource identifier="r{at}" type="imsqti_item_xmlv2p1" href="q{at}.xml"><file href="q{at}.xml"/></resource>' for at in range(len(items))
        )
        archive.writestr(
            "imsmanifest.xml",
            f'<manifest xmlns="http://www.imsglobal.org/xsd/imscp_v1p1" identifier="m"><organizations/><resources>{listed}</resources></manifest>',
        )
        for at, own in enumerate(items):
            data = {"task": own.task, "start": own.start, "arrows": own.written_arrows(), "answer": own.answer, "answers": " ".join(own.answers)}
            words = " ".join(f'data-{name}="{escape(text).replace(chr(10), "&#10;")}"' for name, text in data.items() if text)
            declared, inner = "", f'<extendedTextInteraction responseIdentifier="R" {words}/>'
            if own.options:
                place = key_place(own.key)
                declared = (
                    '<responseDeclaration identifier="R" cardinality="single" baseType="identifier"><correctResponse>'
                    f"<value>c{place}</value></correctResponse></responseDeclaration>"
                )
                drawn = "".join(f'<simpleChoice identifier="c{i}" data-smiles="{escape(option)}"/>' for i, option in enumerate(own.options))
                inner = f'<choiceInteraction responseIdentifier="R" maxChoices="1" {words}>{drawn}</choiceInteraction>'
            # Ids with spaces are no identifiers: they are labels.
            archive.writestr(
                f"q{at}.xml",
                f'<assessmentItem xmlns="http://www.imsglobal.org/xsd/imsqti_v2p1" identifier="{identifier(own.id)}" title="{escape(own.id)}" '
                f'adaptive="false" timeDependent="false">{declared}<itemBody>{inner}</itemBody></assessmentItem>',
            )
    return out.getvalue()


def identifier(text: str) -> str:
    return re.sub(r"[^A-Za-z0-9_.-]", "_", text)


def key_place(key: str) -> int:
    own = re.sub(r"[^A-Za-z0-9]|Option", "", key)
    return int(own) - 1 if own.isdigit() else "abcd".index(own.lower())


def as_cml(items: list[Item]) -> bytes:
    """A reaction an item; atoms have ids, arrows are links. Options are SMILES, members of a set are molecules, in data beside it."""
    out = ['<cml xmlns="http://www.xml-cml.org/schema" xmlns:ka="urn:keyassay:arrows">']
    for own in items:
        ids = {atom.GetProp("name"): f"a{atom.GetProp('name')}" for atom in drawing(own.start).GetAtoms()}
        data = [("item-task", own.task), ("item-key", own.key), *[("item-options", option) for option in own.options]]
        data += [("item-answers", document(answer)) for answer in own.answers]
        listed = "".join(f'<metadata name="ka:{name}" content="{escape(text)}"/>' for name, text in data if text)
        links = "".join(link(sign, tail, head, ids) for sign, tail, head in own.arrows)
        drawn = f'<map convention="ka:electronFlow">{links}</map>' if links else ""
        product = f"<productList><product>{document(own.answer)}</product></productList>" if own.answer else ""
        out.append(
            f'<reaction id="{escape(own.id)}"><metadataList>{listed}</metadataList><reactantList><reactant>{document(own.start)}'
            f"</reactant></reactantList>{product}{drawn}</reaction>"
        )
    return "\n".join([*out, "</cml>"]).encode()


ORDERS = {Chem.BondType.SINGLE: "1", Chem.BondType.DOUBLE: "2", Chem.BondType.TRIPLE: "3", Chem.BondType.AROMATIC: "A"}


def document(smiles: str) -> str:
    """A drawing as a molecule; ids are labels, or say nothing where the drawing has none."""
    found = drawing(smiles)
    is_labelled = any(atom.GetAtomMapNum() for atom in found.GetAtoms())
    ids = [f"a{atom.GetProp('name')}" if is_labelled else f"u{atom.GetIdx() + 1}" for atom in found.GetAtoms()]
    # In CML the count holds the hydrogens that are drawn too.
    atoms = "".join(
        f'<atom id="{ids[atom.GetIdx()]}" elementType="{atom.GetSymbol()}" formalCharge="{atom.GetFormalCharge()}" '
        f'hydrogenCount="{atom.GetTotalNumHs(includeNeighbors=True)}"/>'
        for atom in found.GetAtoms()
    )
    bonds = "".join(
        f'<bond atomRefs2="{ids[bond.GetBeginAtomIdx()]} {ids[bond.GetEndAtomIdx()]}" order="{ORDERS[bond.GetBondType()]}"/>' for bond in found.GetBonds()
    )
    convention = "" if is_labelled else ' convention="ka:unlabelled"'
    names = 'xmlns="http://www.xml-cml.org/schema" xmlns:ka="urn:keyassay:arrows"'
    return f"<molecule {names}{convention}><atomArray>{atoms}</atomArray><bondArray>{bonds}</bondArray></molecule>"


def link(sign: str, tail: Place, head: Place, ids: dict[str, str]) -> str:
    def place(which: str, own: Place) -> str:
        names = " ".join(ids[name] for name in own)
        return f'{which}="{names}" {which}Type="atom"' if len(own) == 1 else f'{which}Set="{names}" {which}Type="bond"'

    role = ' role="single"' if sign == "~>" else ' role="pair"'
    return f"<link {place('from', tail)} {place('to', head)}{role}/>"


WRITERS = {"csv": (as_csv, "csv"), "jsonl": (as_jsonl, "jsonl"), "xlsx": (as_xlsx, "xlsx"), "qti": (as_qti, "zip"), "cml": (as_cml, "cml")}


# Changes.


def spoilt(text: str, rng: random.Random) -> str:
    """A drawing with the charge, the element or the hydrogens of one atom changed, or the order of one bond."""
    found = drawing(text)
    atoms = [atom for atom in found.GetAtoms() if atom.GetAtomicNum() > 1]
    bonds = [bond for bond in found.GetBonds() if bond.GetBondType() in {Chem.BondType.SINGLE, Chem.BondType.DOUBLE} and bond.GetEndAtom().GetAtomicNum() > 1 and bond.GetBeginAtom().GetAtomicNum() > 1]
    how = rng.choice(["charge", "element", "hydrogen", "bond"] if bonds else ["charge", "element", "hydrogen"])
    atom = rng.choice(atoms)
    if how == "element" and atom.GetIsAromatic():
        how = "charge"
    if how == "charge":
        atom.SetFormalCharge(atom.GetFormalCharge() + rng.choice([-1, 1]))
    elif how == "element":
        atom.SetAtomicNum({6: 14, 7: 15, 8: 16, 16: 8, 17: 35, 35: 17}.get(atom.GetAtomicNum(), 6))
    elif how == "hydrogen":
        atom.SetNumExplicitHs(atom.GetTotalNumHs() + 1)
        atom.SetNoImplicit(True)
    else:
        bond = rng.choice(bonds)
        double = bond.GetBondType() == Chem.BondType.SINGLE
        for end in (bond.GetBeginAtom(), bond.GetEndAtom()):
            end.SetNumExplicitHs(end.GetTotalNumHs())
            end.SetNoImplicit(True)
        bond.SetBondType(Chem.BondType.DOUBLE if double else Chem.BondType.SINGLE)
    return Chem.MolToSmiles(found, canonical=False, allHsExplicit=True)


def other_arrows(own: Item, rng: random.Random) -> Item:
    """An arrow less, or turned round."""
    arrows = list(own.arrows)
    at = rng.randrange(len(arrows))
    sign, tail, head = arrows[at]
    if len(arrows) > 1 and (rng.random() < 0.5 or tail == head):
        del arrows[at]
    else:
        arrows[at] = (sign, head, tail)
    return replace(own, arrows=arrows, text="")


def sown(items: list[Item], rng: random.Random) -> tuple[list[Item], dict[str, str]]:
    """The items with changes, and what was done to which."""
    done: dict[str, str] = {}
    by_kind = {
        "answer": [own.id for own in items if own.answer],
        "arrows": [own.id for own in items if len(own.arrows) > 1],
        "start": [own.id for own in items if own.task != "contributors"],
        "key": [own.id for own in items if own.key],
        "lost": [own.id for own in items],
        "renamed": [own.id for own in items],
    }
    for kind, count in SOWN.items():
        free = [own for own in by_kind[kind] if own not in done]
        done.update(dict.fromkeys(rng.sample(free, count), kind))
    new = []
    for own in items:
        match done.get(own.id):
            case "answer":
                own = replace(own, answer=spoilt(own.answer, rng))
            case "arrows":
                own = other_arrows(own, rng)
            case "start":
                own = replace(own, start=spoilt(own.start, rng))
            case "key":
                place = key_place(own.key)
                own = replace(own, key=rng.choice([letter for at, letter in enumerate("ABCD") if at != place]))
            case "lost":
                continue
            case "renamed":
                own = replace(own, id=f"new-{own.id}")
        new.append(own)
    return new, done


def compare(program: str, old: Path, new: Path, out: Path) -> list[dict[str, str]]:
    run = subprocess.run([program, "compare", old, "--with", new, "--out", out, "--all", "--quiet"], capture_output=True, text=True)
    if run.returncode > 1:
        raise SystemExit(f"{new.name}: {run.stderr}")
    return list(csv.DictReader((out / "compare.csv").open(encoding="utf-8")))


def main() -> int:
    program, steps = sys.argv[1], Path(sys.argv[2])
    rng = random.Random(int(sys.argv[3]) if len(sys.argv) > 3 else 26)
    RDLogger.DisableLog("rdApp.*")
    items, spare = bank(steps, rng)
    wrong = 0
    with tempfile.TemporaryDirectory() as folder:
        place = Path(sys.argv[4]) if len(sys.argv) > 4 else Path(folder)
        place.mkdir(parents=True, exist_ok=True)
        old = place / "old.csv"
        old.write_bytes(as_csv(items))
        for target, end in {"csv": "csv", "jsonl": "jsonl", "cml": "cml", "qti": "zip", "xlsx": "xlsx"}.items():
            new = place / f"converted.{end}"
            run = subprocess.run([program, "convert", old, "--to", target, "--out", new], capture_output=True, text=True)
            if run.returncode > 1:
                print(f"convert --to {target}: {run.stderr.strip().splitlines()[0]}")
                continue
            left_out = len(set(re.findall(r"^(\S+): (?:left out|not carried: the order)", run.stderr, re.M)))
            rows = compare(program, old, new, place / "out")
            verdicts = Counter(row["verdict"] for row in rows)
            told = [row for row in rows if row["verdict"] not in {"same", "rewritten"}]
            is_right = len(told) == left_out
            wrong += not is_right
            print(f"convert --to {target}: {dict(verdicts)}; {left_out} that cannot be carried, as convert says")
            for row in told[:3] if not is_right else []:
                print("   ", row["verdict"], row["old_item"], row["field"], row["message"][:200], file=sys.stderr)
        for name, (write, end) in WRITERS.items():
            # An id of a package is an identifier, and CML names drawn atoms alone.
            own = [replace(item, id=identifier(item.id)) for item in items]
            old = place / f"old-{name}.csv"
            old.write_bytes(as_csv(own))
            again = [rewritten(item, rng, name == "cml") for item in own]
            if name == "cml":
                again = [item for item in again if is_drawn_out(item)]
            new = place / f"rewritten.{end}"
            new.write_bytes(write(again))
            rows = compare(program, old, new, place / "out")
            verdicts = Counter(row["verdict"] for row in rows)
            passed_over = len(own) - len(again)
            told = [row for row in rows if row["verdict"] not in {"same", "rewritten"}]
            is_right = len(told) == passed_over and verdicts["changed"] == 0
            wrong += not is_right
            print(f"rewritten as {name}: {dict(verdicts)}" + (f"; {passed_over} not written" if passed_over else ""))
            for row in told[:6] if not is_right else []:
                print("   ", row["verdict"], row["old_item"], row["field"], row["message"][:200], "|", row["old"][:150], "|", row["new"][:150], file=sys.stderr)
            changed, done = sown(again, rng)
            more = [rewritten(item, rng, name == "cml") for item in spare]
            more = [item for item in more if name != "cml" or is_drawn_out(item)]
            changed += [replace(item, id=identifier(f"added-{item.id}")) for item in more]
            new = place / f"sown.{end}"
            new.write_bytes(write(changed))
            rows = compare(program, old, new, place / "out")
            wrong += not sown_are_told(name, rows, done, len(more), {item.id for item in own} - {item.id for item in again}, len(own), len(changed))
    return int(wrong > 0)


def sown_are_told(name: str, rows: list[dict[str, str]], done: dict[str, str], added: int, unwritten: set[str], before: int, after: int) -> bool:
    """Whether the rows tell what was sown, each with its field, and nothing else."""
    told = {(row["old_item"] or row["new_item"]): row for row in rows if row["verdict"] not in {"same", "rewritten"}}
    expected = {own: kind for own, kind in done.items()}
    right, counts = 0, Counter()
    for own, kind in expected.items():
        row = told.pop(own, None)
        verdict, what = (row["verdict"], row["field"]) if row else ("", "")
        is_right = verdict == kind if kind in {"lost", "renamed"} else (verdict, what) == ("changed", kind)
        right += is_right
        counts[kind] += is_right
        if not is_right:
            print("   ", kind, own, "is told as", verdict or "the same", what, (row or {}).get("message", "")[:300], file=sys.stderr)
    new = [own for own, row in told.items() if row["verdict"] == "added"]
    for own in (*new, *unwritten):
        told.pop(own, None)
    for own, row in list(told.items())[:5]:
        print("    not sown:", own, row["verdict"], row["field"], row["message"][:200], file=sys.stderr)
    once = Counter((row["old_file"], row["old_line"], row["old_item"]) for row in rows if row["old_item"])
    again = Counter((row["new_file"], row["new_line"], row["new_item"]) for row in rows if row["new_item"])
    each_once = sum(once.values()) == before and sum(again.values()) == after and max(*once.values(), *again.values()) == 1
    sown = len(expected) + added
    found = right + min(len(new), added)
    others = len(told) + max(0, len(new) - added)
    precision = found / (found + others) if found + others else 1
    print(
        f"  sown in {name}: recall {found}/{sown}, precision {precision:.1%} ("
        + ", ".join(f"{kind} {counts[kind]}/{SOWN[kind]}" for kind in SOWN)
        + f", added {len(new)}/{added}); each item in one row: {'yes' if each_once else 'no'}"
    )
    return found == sown and not others and each_once


if __name__ == "__main__":
    raise SystemExit(main())
