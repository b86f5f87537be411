"""Mechanisms made of published steps, each sound, and each with one fault: is the faulty step named, and no other?

    mechanisms.py PROGRAM STEPS.jsonl [COUNT [SEED]]

A mechanism is a chain of 2 to 4 steps in which a product of one is a reactant of the next. Some redraw their starts (other order of
atoms, other labels), bring new reagents in and leave species out, others go on from the answer before with everything in the
flask from the beginning. One of each three has a solvent or a counter-ion beside it. RDKit makes all of it. Of each mechanism one copy
gets a fault in one step: an answer, an arrow, or a redrawn start. Status 1 where a sound one has a finding above a note or fewer
than 99 % of the faulty ones name their step alone.
"""

from __future__ import annotations

import json
import random
import re
import subprocess
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

from rdkit import Chem, RDLogger

LEAST, SPECTATORS = 0.99, ["CCO", "[Na+]", "O", "ClCCl", "[K+]", "C1CCOC1", "[Li+]"]
BANK_WIDE = {"repeated-question", "conflicting-answers", "shifted-answers", "shifted-labels"}
READING = Chem.SmilesParserParams()
READING.removeHs = False
PLAIN = Chem.SmilesParserParams()
PLAIN.removeHs, PLAIN.sanitize = False, False


def molecule(smiles: str) -> Chem.Mol:
    found = Chem.MolFromSmiles(smiles, READING)
    if found is None:
        raise ValueError(smiles)
    return found


def species(smiles: str) -> list[str]:
    return smiles.split(".")


def name(smiles: str) -> str:
    """A species whatever its labels, its order of atoms and its drawn hydrogens."""
    found = molecule(smiles)
    for atom in found.GetAtoms():
        atom.SetAtomMapNum(0)
    return Chem.MolToSmiles(Chem.RemoveHs(found, sanitize=False) if found.GetNumHeavyAtoms() else found)


def heavy(smiles: str) -> int:
    return molecule(smiles).GetNumHeavyAtoms()


def labels(smiles: str) -> list[int]:
    return [int(found) for found in re.findall(r":(\d+)\]", smiles)]


def renamed(text: str, names: dict[int, int]) -> str:
    """Labels of a structure or of arrows, changed."""
    if "->" in text:
        return re.sub(r"\d+", lambda found: str(names[int(found[0])]), text)
    return re.sub(r":(\d+)\]", lambda found: f":{names[int(found[1])]}]", text)


def shuffled(smiles: str, rng: random.Random) -> str:
    """Species and atoms in another order, as drawn otherwise."""
    parts = []
    for part in species(smiles):
        found = Chem.MolFromSmiles(part, PLAIN)
        order = list(range(found.GetNumAtoms()))
        rng.shuffle(order)
        # RDKit turns stereo marks with the order of the atoms.
        parts.append(Chem.MolToSmiles(Chem.RenumberAtoms(found, order), canonical=False))
    rng.shuffle(parts)
    return ".".join(parts)


@dataclass
class Step:
    """One step of a mechanism."""

    arrows: str
    answer: str
    start: str = ""
    omits: str = ""
    # The species that comes from the step before, in `start`.
    carried: str = ""

    def fields(self) -> dict[str, str]:
        own = {"arrows": self.arrows, "answer": self.answer, "start": self.start, "omits": self.omits}
        return {key: text for key, text in own.items() if text}


@dataclass
class Mechanism:
    """A chain, and where its fault is."""

    steps: list[Step]
    kind: str
    fault: tuple[int, str] = (0, "")
    items: list[str] = field(default_factory=list)


class Published:
    """The steps, and which of them go on from which."""

    def __init__(self, program: str, path: Path, folder: Path) -> None:
        self.steps: list[dict[str, str]] = []
        self.named: list[tuple[list[str], list[str]]] = []
        # A few of the published ones are several steps drawn as one, which is a finding of its own.
        told = audit(program, path, folder)
        self.passed_over = len(told)
        for line in path.read_text(encoding="utf-8").splitlines():
            step = json.loads(line)
            if step["id"] in told:
                continue
            try:
                named = [name(own) for own in species(step["start"])], [name(own) for own in species(step["answer"])]
            except ValueError:
                continue
            self.steps.append(step)
            self.named.append(named)
        by_reactant: dict[str, list[int]] = defaultdict(list)
        for at, (start, _) in enumerate(self.named):
            for own in set(start):
                by_reactant[own].append(at)
        self.next: dict[int, list[tuple[str, int]]] = {}
        for at, (start, answer) in enumerate(self.named):
            new = {own for own in set(answer) - set(start) if heavy(own) >= 2}
            onward = [(own, other) for own in sorted(new) for other in by_reactant[own] if other != at]
            if onward:
                self.next[at] = onward

    def chain(self, length: int, rng: random.Random) -> list[tuple[str, int]]:
        """Steps, each with the species that it takes from the one before."""
        here = rng.choice(sorted(self.next))
        chain = [("", here)]
        while len(chain) < length and here in self.next:
            carried, here = rng.choice(self.next[here])
            chain.append((carried, here))
        return chain


def fresh(step: dict[str, str], used: set[int], rng: random.Random) -> tuple[str, str, str]:
    """A step under labels that are not used yet."""
    own = sorted(set(labels(step["start"])))
    free = [label for label in range(1, 40 + 2 * (len(own) + len(used))) if label not in used]
    names = dict(zip(own, rng.sample(free, len(own)), strict=True))
    return renamed(step["start"], names), renamed(step["arrows"], names), renamed(step["answer"], names)


def beside(count: int, rng: random.Random) -> list[str]:
    """Spectators without labels of their own: atoms that no arrow names need none."""
    return rng.sample(SPECTATORS, count)


def labelled(smiles: str, used: set[int]) -> str:
    """A spectator under new labels."""
    found = Chem.MolFromSmiles(smiles, PLAIN)
    found.UpdatePropertyCache(strict=False)
    for atom in found.GetAtoms():
        label = max(used, default=0) + 1
        used.add(label)
        atom.SetAtomMapNum(label)
    return Chem.MolToSmiles(found, canonical=False)


def redrawn(published: Published, chain: list[tuple[str, int]], rng: random.Random) -> Mechanism:
    """Each step redraws its start: what comes from before, and new reagents."""
    steps: list[Step] = []
    left: list[str] = []
    for carried, at in chain:
        start, arrows, answer = fresh(published.steps[at], set(), rng)
        own = list(zip(species(start), published.named[at][0], strict=True))
        drawn = next((text for text, named in own if named == carried), "")
        omits = ""
        if steps:
            # What else the answer before has: left out and named so, or kept beside.
            left = list(left)
            left.remove(carried)
            for text, named in own:
                if text != drawn and named in left:
                    left.remove(named)
            used = set(labels(start))
            if left and rng.random() < 0.5:
                kept = [labelled(text, used) for text in left]
                start, answer = ".".join([start, *kept]), ".".join([answer, *kept])
            elif left:
                omits = "*" if rng.random() < 0.3 else ".".join(left)
        if rng.random() < 0.34:
            used = set(labels(start))
            kept = [labelled(text, used) for text in beside(1, rng)]
            start, answer = ".".join([start, *kept]), ".".join([answer, *kept])
        left = [name(text) for text in species(answer)]
        start = shuffled(start, rng)
        # The carried species is found again by its labels.
        mine = set(labels(drawn))
        drawn = next((text for text in species(start) if mine and set(labels(text)) == mine), "")
        steps.append(Step(arrows, shuffled(answer, rng), start, omits, drawn))
    return Mechanism(steps, "redrawn")


def in_one_flask(published: Published, chain: list[tuple[str, int]], rng: random.Random) -> Mechanism | None:
    """No step but the first draws a start: what each brings in stands there from the beginning."""
    start, arrows, answer = fresh(published.steps[chain[0][1]], set(), rng)
    used = set(labels(start))
    steps = [Step(arrows, answer, start)]
    for carried, at in chain[1:]:
        start, arrows, answer = fresh(published.steps[at], used, rng)
        used |= set(labels(start))
        own = list(zip(species(start), published.named[at][0], strict=True))
        drawn = next(text for text, named in own if named == carried)
        before = next(text for text in species(steps[-1].answer) if name(text) == carried)
        one, other = molecule(drawn), molecule(before)
        pattern = Chem.Mol(one)
        if one.GetNumAtoms() != other.GetNumAtoms():
            return None
        match = other.GetSubstructMatch(pattern, useChirality=False)
        if not match:
            return None
        names = {label: label for label in labels(start)}
        for atom, there in zip(one.GetAtoms(), match, strict=True):
            names[atom.GetAtomMapNum()] = other.GetAtomWithIdx(there).GetAtomMapNum()
        if not same_drawing(renamed(drawn, names), before):
            return None
        brought = [text for text in species(start) if text != drawn]
        stays = [text for text in species(steps[-1].answer) if text != before]
        steps[0].start = ".".join([steps[0].start, *brought])
        for step in steps:
            step.answer = ".".join([step.answer, *brought])
        steps.append(Step(renamed(arrows, names), ".".join([renamed(answer, names), *stays])))
    for step in steps:
        step.answer = shuffled(step.answer, rng)
    steps[0].start = shuffled(steps[0].start, rng)
    return Mechanism(steps, "in one flask")


def same_drawing(one: str, other: str) -> bool:
    """Whether two species under the same labels are drawn alike, hydrogens included."""

    def form(text: str) -> list[object]:
        found = Chem.MolFromSmiles(text, PLAIN)
        found.UpdatePropertyCache(strict=False)
        atoms = [(atom.GetAtomMapNum(), atom.GetFormalCharge(), atom.GetTotalNumHs()) for atom in found.GetAtoms()]
        bonds = [
            (*sorted((bond.GetBeginAtom().GetAtomMapNum(), bond.GetEndAtom().GetAtomMapNum())), str(bond.GetBondType()))
            for bond in found.GetBonds()
        ]
        return [sorted(atoms), sorted(bonds)]

    return form(one) == form(other) and "@" not in one + other and "/" not in one + other


def spoilt_drawing(smiles: str, of: set[int], rng: random.Random) -> str:
    """A drawing with one atom or bond wrong, among the atoms with these labels."""
    found = Chem.RWMol(Chem.MolFromSmiles(smiles, PLAIN))
    found.UpdatePropertyCache(strict=False)
    atoms = [atom for atom in found.GetAtoms() if atom.GetAtomMapNum() in of and atom.GetAtomicNum() > 1]
    how = rng.choice(["charge", "hydrogen", "element", "proton"])
    atom = rng.choice(atoms)
    if how == "proton":
        # A right drawing of another compound: with one proton more or less.
        change = -1 if atom.GetTotalNumHs() and rng.random() < 0.5 else 1
        atom.SetFormalCharge(atom.GetFormalCharge() + change)
        atom.SetNumExplicitHs(atom.GetTotalNumHs() + change)
        atom.SetNoImplicit(True)
    elif how == "charge":
        atom.SetFormalCharge(atom.GetFormalCharge() + rng.choice([-1, 1]))
    elif how == "hydrogen":
        atom.SetNumExplicitHs(atom.GetTotalNumHs() + 1)
        atom.SetNoImplicit(True)
    else:
        atom.SetAtomicNum({6: 7, 7: 6, 8: 16, 16: 8}.get(atom.GetAtomicNum(), 6))
    return Chem.MolToSmiles(found, canonical=False)


def spoilt_arrows(arrows: str, start: str, rng: random.Random) -> str:
    """Arrows with one left out, turned round or led elsewhere."""
    own = [arrow.strip() for arrow in arrows.split(";")]
    at = rng.randrange(len(own))
    tail, head = (part.strip() for part in own[at].split("->"))
    how = rng.choice(["left out", "turned", "led elsewhere"] if len(own) > 1 else ["turned", "led elsewhere"])
    if how == "left out":
        del own[at]
    elif how == "turned":
        own[at] = f"{head} -> {tail}"
    else:
        named = set(re.findall(r"\d+", own[at]))
        others = [str(label) for label in labels(start) if str(label) not in named]
        if not others:
            own[at] = f"{head} -> {tail}"
        else:
            own[at] = f"{tail} -> {tail.split('-')[0]}-{rng.choice(others)}"
    return "; ".join(own)


def with_fault(sound: Mechanism, rng: random.Random) -> Mechanism:
    """A copy with one fault."""
    steps = [replace(step) for step in sound.steps]
    at = rng.randrange(len(steps))
    step = steps[at]
    kinds = ["answer", "arrows"]
    if step.carried:
        kinds.append("start")
    what = rng.choice(kinds)
    named = {int(label) for label in re.findall(r"\d+", step.arrows)}
    if what == "answer":
        # Wrong where the step happens: in a species that an arrow touches.
        mine = {label for part in species(step.answer) if named & set(labels(part)) for label in labels(part)}
        step.answer = spoilt_drawing(step.answer, mine, rng)
    elif what == "arrows":
        drawn = step.start or sound.steps[at - 1].answer
        step.arrows = spoilt_arrows(step.arrows, drawn, rng)
    else:
        step.start = spoilt_drawing(step.start, set(labels(step.carried)), rng)
    return Mechanism(steps, sound.kind, (at + 1, what))


def mechanisms(published: Published, count: int, rng: random.Random) -> Iterator[Mechanism]:
    made = 0
    while made < count:
        chain = published.chain(rng.choice([2, 2, 3, 3, 4]), rng)
        if len(chain) < 2:
            continue
        found = in_one_flask(published, chain, rng) if rng.random() < 0.4 else None
        yield found or redrawn(published, chain, rng)
        made += 1


def audit(program: str, bank: Path, out: Path) -> dict[str, list[dict[str, object]]]:
    run = subprocess.run([program, "audit", bank, "--out", out, "--write", "json", "--fail-on", "never", "--quiet"], capture_output=True, text=True)
    if run.returncode:
        raise SystemExit(run.stderr)
    found: dict[str, list[dict[str, object]]] = defaultdict(list)
    for own in json.loads((out / "audit.json").read_text())["findings"]:
        if own["severity"] != "note" and own["finding"] not in BANK_WIDE:
            found[own["item"]].append(own)
    return found


def main() -> int:
    program, path = sys.argv[1], Path(sys.argv[2])
    count, seed = (int(text) for text in (sys.argv[3:5] + ["200", "25"][len(sys.argv[3:5]) :]))
    RDLogger.DisableLog("rdApp.*")
    rng = random.Random(seed)
    with tempfile.TemporaryDirectory() as folder:
        published = Published(program, path, Path(folder))
        sound = list(mechanisms(published, count, rng))
        faulty = [with_fault(own, rng) for own in sound]
        banks = {}
        for kind, listed in (("sound", sound), ("faulty", faulty)):
            banks[kind] = Path(folder) / f"{kind}.jsonl"
            items = [{"id": f"{kind}-{at}", "steps": [step.fields() for step in own.steps]} for at, own in enumerate(listed)]
            banks[kind].write_text("".join(json.dumps(item) + "\n" for item in items), encoding="utf-8")
        told = {kind: audit(program, bank, Path(folder) / "out") for kind, bank in banks.items()}
        if len(sys.argv) > 5:
            for kind, bank in banks.items():
                (Path(sys.argv[5]) / f"{kind}.jsonl").write_bytes(bank.read_bytes())
    kinds = Counter((own.kind, len(own.steps)) for own in sound)
    print(f"{len(published.steps)} published steps; {published.passed_over} with a finding above a note are passed over")
    print(f"{count} mechanisms: " + ", ".join(f"{number} of {length} steps {kind}" for (kind, length), number in sorted(kinds.items())))
    print(f"sound: {count - len(told['sound'])} of {count} without a finding above a note")
    for item, own in list(told["sound"].items())[:15]:
        print(f"  {item} ({sound[int(item.split('-')[1])].kind}): " + " | ".join(f"step {one['step']} {one['finding']}: {one['message']}" for one in own), file=sys.stderr)
    right, by_kind = 0, Counter()
    for at, own in enumerate(faulty):
        findings = told["faulty"].get(f"faulty-{at}", [])
        named = {str(one["step"] or "1") for one in findings}
        is_right = named == {str(own.fault[0])}
        right += is_right
        by_kind[own.fault[1], is_right] += 1
        if not is_right:
            said = " | ".join(f"step {one['step']} {one['finding']}: {one['message']}" for one in findings)
            print(f"  faulty-{at} ({own.kind}, {own.fault[1]} of step {own.fault[0]}): {said}", file=sys.stderr)
    words = ", ".join(f"{what} {by_kind[what, True]}/{by_kind[what, True] + by_kind[what, False]}" for what in ("answer", "arrows", "start"))
    print(f"faulty: {right} of {count} name their step and no other ({words})")
    return int(bool(told["sound"]) or right < LEAST * count)


if __name__ == "__main__":
    raise SystemExit(main())
