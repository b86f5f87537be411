"""Keys as people write them, in each format, right, one too many and one too few; and the same after `convert` to each format.

    tests/witness/keys.py PROGRAM

Every question has four drawn options of which one, two or three are the product of its arrows (the same drawing spelt otherwise), so
that the finding follows from the key alone. Documents of CML and QTI are written here, not by the program. Status 1 where a finding
differs from the one expected.
"""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
import tempfile
import zipfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from pathlib import Path

START, ARROWS = "[CH3:1][I:2].[OH-:3]", "3 -> 1-3; 1-2 -> 2"
# Drawings of the product, each another spelling, and what is none of it.
RIGHT = ["CO.[I-]", "OC.[I-]", "[I-].CO"]
WRONG = ["[O-]C.I", "CI.[OH-]", "C[OH+].[I-]", "[CH3+].[I-].[OH-]"]
LETTERS = "ABCD"
# Which options are right.
RIGHTS = ["B", "D", "AD", "BC", "ABD"]

# A key from the letters and the texts of its options, in the order of the options.
ONE = {
    "B": lambda l, t: l,
    "b": lambda l, t: l.lower(),
    "B)": lambda l, t: l + ")",
    "(b)": lambda l, t: f"({l.lower()})",
    "[B]": lambda l, t: f"[{l}]",
    "B.": lambda l, t: l + ".",
    "B:": lambda l, t: l + ":",
    "2": lambda l, t: str(number(l)),
    "2)": lambda l, t: f"{number(l)})",
    "2.0": lambda l, t: f"{number(l)}.0",
    "#2": lambda l, t: f"#{number(l)}",
    "No. 2": lambda l, t: f"No. {number(l)}",
    "Option 2": lambda l, t: f"Option {number(l)}",
    "option b": lambda l, t: f"option {l.lower()}",
    "Option B)": lambda l, t: f"Option {l})",
    "option_b": lambda l, t: f"option_{l.lower()}",
    "Choice B": lambda l, t: f"Choice {l}",
    "Answer: B": lambda l, t: f"Answer: {l}",
    "B only": lambda l, t: f"{l} only",
    "spaces": lambda l, t: f"  {l} ",
    "no-break space": lambda l, t: f"\u00a0{l}\u00a0",
    "its text": lambda l, t: t,
}
MANY = {
    "A, D": lambda ls, ts: ", ".join(ls),
    "A,D": lambda ls, ts: ",".join(ls),
    "A; D": lambda ls, ts: "; ".join(ls),
    "A;D": lambda ls, ts: ";".join(ls),
    "A/D": lambda ls, ts: "/".join(ls),
    "A / D": lambda ls, ts: " / ".join(ls),
    "A+D": lambda ls, ts: "+".join(ls),
    "A + D": lambda ls, ts: " + ".join(ls),
    "A & D": lambda ls, ts: " & ".join(ls),
    "A and D": lambda ls, ts: " and ".join(ls),
    "A, B and D": lambda ls, ts: ", ".join(ls[:-1]) + " and " + ls[-1],
    "A, B, and D": lambda ls, ts: ", ".join(ls[:-1]) + ", and " + ls[-1],
    "both A and D": lambda ls, ts: "both " + " and ".join(ls),
    "A D": lambda ls, ts: " ".join(ls),
    "AD": lambda ls, ts: "".join(ls),
    "a, d": lambda ls, ts: ", ".join(ls).lower(),
    "(a), (d)": lambda ls, ts: ", ".join(f"({l.lower()})" for l in ls),
    "A) and D)": lambda ls, ts: " and ".join(f"{l})" for l in ls),
    "1, 4": lambda ls, ts: ", ".join(str(number(l)) for l in ls),
    "1 4": lambda ls, ts: " ".join(str(number(l)) for l in ls),
    "1;4": lambda ls, ts: ";".join(str(number(l)) for l in ls),
    "Options A and D": lambda ls, ts: "Options " + " and ".join(ls),
    "Option 1, Option 4": lambda ls, ts: ", ".join(f"Option {number(l)}" for l in ls),
    "option_a option_d": lambda ls, ts: " ".join(f"option_{l.lower()}" for l in ls),
    "A|D": lambda ls, ts: "|".join(ls),
    "a line each": lambda ls, ts: "\n".join(ls),
    "D, A": lambda ls, ts: ", ".join(reversed(ls)),
    "no-break space": lambda ls, ts: ",\u00a0".join(ls),
    "their texts": lambda ls, ts: ", ".join(ts),
}
# How packages name their choices: identifiers, in the order of the options.
IDENTIFIERS = {
    "A": list("ABCD"),
    "a": list("abcd"),
    "Choice1": [f"Choice{at}" for at in range(1, 5)],
    "choice_b": [f"choice_{letter}" for letter in "abcd"],
    "other letters": list("CADB"),
    "ids": ["i8f31", "i0c77", "i59aa", "i2e06"],
}


def number(letter: str) -> int:
    return LETTERS.index(letter) + 1


@dataclass
class Question:
    """One item, the places of its keys, how they are written, and what must be found."""

    id: str
    what: str
    options: list[str]
    keys: list[int]
    key: str
    names: list[str]
    expected: str


def options(right: str) -> list[str]:
    rights, wrongs = iter(RIGHT), iter(WRONG)
    return [next(rights) if letter in right else next(wrongs) for letter in LETTERS]


def variants(right: str) -> Iterator[tuple[str, str, str]]:
    """The keyed letters, what they are, and the findings that follow."""
    wrong = [letter for letter in LETTERS if letter not in right]
    yield right, "right", ""
    yield "".join(sorted(right + wrong[0])), "one too many", "keyed-option-wrong"
    if len(right) > 1:
        yield right[1:], "one too few", "several-options-right"
        yield right[:-1], "another too few", "several-options-right"
    else:
        yield wrong[0], "another one", "keyed-option-wrong"


def keyed(letters: str, texts: list[str]) -> Iterator[tuple[str, str]]:
    """Every spelling of a key, with its name."""
    if len(letters) == 1:
        for name, spell in ONE.items():
            yield name, spell(letters, texts[0])
    else:
        for name, spell in MANY.items():
            yield name, spell(list(letters), texts)


def by_text() -> Iterator[Question]:
    """Questions whose key is a text."""
    for right in RIGHTS:
        drawn = options(right)
        for letters, what, expected in variants(right):
            texts = [drawn[LETTERS.index(letter)] for letter in letters]
            for name, key in keyed(letters, texts):
                places = [LETTERS.index(letter) for letter in letters]
                yield Question("", f"{right} keyed {letters} ({what}) as {name}", drawn, places, key, [], expected)


def by_identifier() -> Iterator[Question]:
    """Questions whose key is the identifiers of choices."""
    for right in RIGHTS:
        drawn = options(right)
        for letters, what, expected in variants(right):
            places = [LETTERS.index(letter) for letter in letters]
            for name, names in IDENTIFIERS.items():
                yield Question("", f"{right} keyed {letters} ({what}) as {name}", drawn, places, "", names, expected)


def as_csv(questions: list[Question]) -> bytes:
    text = io.StringIO()
    rows = csv.writer(text)
    rows.writerow(["id", "start", "arrows", *[f"option_{letter.lower()}" for letter in LETTERS], "key"])
    rows.writerows([q.id, START, ARROWS, *q.options, q.key] for q in questions)
    return text.getvalue().encode()


def as_jsonl(questions: list[Question]) -> bytes:
    lines = []
    for at, q in enumerate(questions):
        # Every second one has its keys as a list.
        key: object = q.key if at % 2 else [LETTERS[place] for place in q.keys]
        lines.append(json.dumps({"id": q.id, "start": START, "arrows": ARROWS, "options": q.options, "key": key}))
    return "\n".join(lines).encode()


def as_cml(questions: list[Question]) -> bytes:
    def one(q: Question) -> str:
        data = [("item-key", q.key), *[("item-options", option) for option in q.options]]
        listed = "".join(f'<metadata name="ka:{name}" content="{attribute(text)}"/>' for name, text in data)
        return (
            f'<reaction id="{attribute(q.id)}"><metadataList>{listed}</metadataList><reactantList>'
            '<reactant><molecule id="m1"><atomArray><atom id="a1" elementType="C" hydrogenCount="3"/>'
            '<atom id="a2" elementType="I" hydrogenCount="0"/></atomArray>'
            '<bondArray><bond atomRefs2="a1 a2" order="S"/></bondArray></molecule></reactant>'
            '<reactant><molecule id="m2"><atomArray><atom id="a3" elementType="O" formalCharge="-1" hydrogenCount="1"/>'
            "</atomArray></molecule></reactant></reactantList>"
            '<map convention="ka:electronFlow"><link from="a3" fromType="atom" toSet="a1 a3" toType="bond"/>'
            '<link fromSet="a1 a2" fromType="bond" to="a2" toType="atom"/></map></reaction>'
        )

    body = "".join(one(q) for q in questions)
    return f'<cml xmlns="http://www.xml-cml.org/schema" xmlns:ka="urn:keyassay:arrows">{body}</cml>'.encode()


def attribute(text: str) -> str:
    return escape(text).replace("\n", "&#10;")


def as_qti_12(questions: list[Question]) -> bytes:
    def one(q: Question) -> str:
        field = "<qtimetadatafield><fieldlabel>data-{}</fieldlabel><fieldentry>{}</fieldentry></qtimetadatafield>"
        drawn = "".join(
            f'<response_label ident="{name}"><material><mattext texttype="chemical/x-daylight-smiles">{option}</mattext>'
            "</material></response_label>"
            for name, option in zip(q.names, q.options, strict=True)
        )
        equal = [f'<varequal respident="R">{q.names[place]}</varequal>' for place in q.keys]
        rest = [f'<not><varequal respident="R">{name}</varequal></not>' for at, name in enumerate(q.names) if at not in q.keys]
        several = len(q.keys) > 1
        test = f"<and>{''.join(equal + rest)}</and>" if several else equal[0]
        return (
            f'<item ident="{q.id}"><itemmetadata><qtimetadata>{field.format("start", START)}'
            f"{field.format('arrows', escape(ARROWS))}</qtimetadata></itemmetadata><presentation>"
            f'<response_lid ident="R" rcardinality="{"Multiple" if several else "Single"}"><render_choice>{drawn}</render_choice>'
            "</response_lid></presentation><resprocessing><outcomes><decvar/></outcomes><respcondition><conditionvar>"
            f'{test}</conditionvar><setvar action="Set">1</setvar></respcondition></resprocessing></item>'
        )

    return f"<questestinterop>{''.join(one(q) for q in questions)}</questestinterop>".encode()


def package(questions: list[Question], kind: str, version: str, item: str, values: str, choice: str, interaction: str) -> bytes:
    """A zipped content package: element names of the version are given."""
    kebab = item.startswith("qti-")
    body, declared = ("qti-item-body", "qti-response-declaration") if kebab else ("itemBody", "responseDeclaration")
    correct, value = values.split()
    base, time, response, most = (
        ("base-type", "time-dependent", "response-identifier", "max-choices")
        if kebab
        else ("baseType", "timeDependent", "responseIdentifier", "maxChoices")
    )
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        listed = "".join(f'<resource identifier="r{at}" type="{kind}" href="q{at}.xml"><file href="q{at}.xml"/></resource>' for at in range(len(questions)))
        archive.writestr("imsmanifest.xml", f'<manifest xmlns="http://www.imsglobal.org/xsd/imscp_v1p1" identifier="m"><organizations/><resources>{listed}</resources></manifest>')
        for at, q in enumerate(questions):
            keys = "".join(f"<{value}>{q.names[place]}</{value}>" for place in q.keys)
            several = len(q.keys) > 1
            drawn = "".join(f'<{choice} identifier="{name}" data-smiles="{option}">.</{choice}>' for name, option in zip(q.names, q.options, strict=True))
            archive.writestr(
                f"q{at}.xml",
                f'<{item} xmlns="{version}" identifier="{q.id}" title="t" adaptive="false" {time}="false">'
                f'<{declared} identifier="RESPONSE" cardinality="{"multiple" if several else "single"}" {base}="identifier">'
                f"<{correct}>{keys}</{correct}></{declared}><{body}><{interaction} {response}=\"RESPONSE\" {most}=\"{0 if several else 1}\" "
                f'data-start="{START}" data-arrows="{escape(ARROWS)}">{drawn}</{interaction}></{body}></{item}>',
            )
    return out.getvalue()


def as_qti_21(questions: list[Question]) -> bytes:
    return package(questions, "imsqti_item_xmlv2p1", "http://www.imsglobal.org/xsd/imsqti_v2p1", "assessmentItem", "correctResponse value", "simpleChoice", "choiceInteraction")


def as_qti_30(questions: list[Question]) -> bytes:
    return package(questions, "imsqti_item_xmlv3p0", "http://www.imsglobal.org/xsd/imsqtiasi_v3p0", "qti-assessment-item", "qti-correct-response qti-value", "qti-simple-choice", "qti-choice-interaction")


FORMATS = {
    "CSV": (by_text, as_csv, "csv"),
    "JSON Lines": (by_text, as_jsonl, "jsonl"),
    "CML": (by_text, as_cml, "cml"),
    "QTI 1.2": (by_identifier, as_qti_12, "xml"),
    "QTI 2.1": (by_identifier, as_qti_21, "zip"),
    "QTI 3.0": (by_identifier, as_qti_30, "zip"),
}
TARGETS = {"csv": "csv", "jsonl": "jsonl", "cml": "cml", "qti": "zip"}
KINDS = {"keyed-option-wrong", "several-options-right", "no-option-right", "missing-field", "unreadable-record", "mismatched-product"}


def findings(program: str, bank: Path, out: Path) -> tuple[dict[str, set[str]], int]:
    """The findings of each item that is told of, and how many items were read."""
    run = subprocess.run([program, "audit", bank, "--out", out, "--write", "json", "--fail-on", "never", "--quiet"], capture_output=True, text=True)
    if run.returncode:
        raise SystemExit(f"{bank.name}: {run.stderr}")
    audit = json.loads((out / "audit.json").read_text())
    found: dict[str, set[str]] = {}
    for own in audit["findings"]:
        if own["finding"] in KINDS:
            found.setdefault(own["item"], set()).add(own["finding"])
    return found, audit["totals"]["items"]


def main(program: str) -> int:
    failures: list[str] = []
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        for name, (made, write, ending) in FORMATS.items():
            questions = list(made())
            for at, q in enumerate(questions):
                q.id = f"q{at}"
            bank = place / f"bank-{ending}-{name.replace(' ', '-')}.{ending}"
            bank.write_bytes(write(questions))
            banks = {"as written": bank}
            for target, end in TARGETS.items():
                other = place / f"{bank.stem}-to-{target}.{end}"
                run = subprocess.run([program, "convert", bank, "--to", target, "--out", other], capture_output=True, text=True)
                if run.returncode:
                    failures.append(f"{name} to {target}: {run.stderr or run.stdout}")
                    continue
                banks[f"to {target}"] = other
            counts = []
            for how, path in banks.items():
                found, items = findings(program, path, place / "audit")
                wrong = 0
                for q in questions:
                    said = found.get(q.id, set())
                    if said != set(q.expected.split()):
                        wrong += 1
                        failures.append(f"{name}, {how}: {q.what}: key {q.key!r}: {sorted(said)}, expected {q.expected or 'nothing'}")
                if items != len(questions):
                    failures.append(f"{name}, {how}: {items} items of {len(questions)}")
                counts.append(f"{how} {len(questions) - wrong}/{len(questions)}")
            print(f"{name:10} {'; '.join(counts)}")
    for line in failures[:40]:
        print(line, file=sys.stderr)
    by_spelling = Counter(line.split(" as ")[-1].split(":")[0] for line in failures)
    if failures:
        print(f"{len(failures)} differ: {dict(by_spelling.most_common(20))}", file=sys.stderr)
    return int(bool(failures))


if __name__ == "__main__":
    if len(sys.argv) != 2:
        raise SystemExit(__doc__)
    raise SystemExit(main(sys.argv[1]))
