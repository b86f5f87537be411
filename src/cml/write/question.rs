//! A question as a `reaction`, one with steps as a `reactionScheme`.

use super::super::arrows::{CONVENTION, DICTIONARY, ROLES};
use super::super::reaction::{FIELD, ItemField, Reaction, Sequence};
use super::ids::{self, Ids};
use super::molecule::{self, Root};
use super::{PREFIX, Unwritten};
use crate::arrows::{AtomName, DrawnArrow, Place};
use crate::structure::Structure;
use crate::xml::markup::{Markup, is_writable};

/// Writes a question. `molecules` counts the molecules of the document.
pub(super) fn write(markup: &mut Markup, question: &Sequence, molecules: &mut u64, lost: &mut Vec<Unwritten>) {
    let mut writer = QuestionWriter { markup, molecules: Some(molecules), lost };
    let stands_alone = question.id.is_none() && question.title.is_none() && question.steps.len() == 1;
    if stands_alone {
        for step in &question.steps {
            writer.reaction(step, &question.fields);
        }
        return;
    }
    let (id, title) = writer.names(question.id.as_deref(), question.title.as_deref());
    writer.markup.open("reactionScheme", &[("id", id.as_deref()), ("title", title.as_deref())]);
    writer.fields(&question.fields);
    writer.markup.open("reactionStepList", &[("type", Some("consecutive"))]);
    for step in &question.steps {
        writer.markup.open("reactionStep", &[]);
        writer.reaction(step, &[]);
        writer.markup.close();
    }
    writer.markup.close();
    writer.markup.close();
}

/// Writes the molecules of one side as `product` elements without ids of their own, to stand in a document that is there.
pub(super) fn products(markup: &mut Markup, structure: &Structure, lost: &mut Vec<Unwritten>) {
    let mut ids = Ids::default();
    ids.take_labels(structure, lost);
    let mut writer = QuestionWriter { markup, molecules: None, lost };
    for (first, end) in species(structure, 0, structure.atom_count()) {
        writer.molecule("product", structure, first..end, &mut ids);
    }
}

/// Writes arrows as the `link` elements of a map.
pub(super) fn links(markup: &mut Markup, arrows: &[DrawnArrow], lost: &mut Vec<Unwritten>) {
    let mut ids = Ids::default();
    for name in arrows.iter().flat_map(|arrow| names_of(&arrow.tail).chain(names_of(&arrow.head))) {
        ids.take_id(&name.label, lost);
    }
    QuestionWriter { markup, molecules: None, lost }.links(arrows, &ids);
}

struct QuestionWriter<'a> {
    markup: &'a mut Markup,
    /// Counts the molecules, whose ids are their numbers; absent, they get none.
    molecules: Option<&'a mut u64>,
    lost: &'a mut Vec<Unwritten>,
}

impl QuestionWriter<'_> {
    /// Id and title as they can be written: an id that XML does not allow is a title.
    fn names(&mut self, id: Option<&str>, title: Option<&str>) -> (Option<String>, Option<String>) {
        for (text, name) in [(id, "the id"), (title, "the title")] {
            if text.is_some_and(|text| !text.chars().all(is_writable)) {
                self.lost.push(Unwritten::Control(name));
            }
        }
        match (id, title) {
            (Some(id), title) if ids::is_question_id(id) => (Some(id.to_owned()), title.map(str::to_owned)),
            (Some(id), None) => (None, Some(id.to_owned())),
            (Some(id), Some(title)) => {
                self.lost.push(Unwritten::Id(id.to_owned()));
                (None, Some(title.to_owned()))
            }
            (None, title) => (None, title.map(str::to_owned)),
        }
    }

    fn fields(&mut self, fields: &[ItemField]) {
        if fields.is_empty() {
            return;
        }
        self.markup.open("metadataList", &[]);
        for field in fields {
            if !field.value.chars().all(is_writable) {
                self.lost.push(Unwritten::Control("a field"));
            }
            let name = format!("{PREFIX}:{FIELD}{}", field.name);
            self.markup.empty("metadata", &[("name", Some(&name)), ("content", Some(&field.value))]);
        }
        self.markup.close();
    }

    fn reaction(&mut self, reaction: &Reaction, fields: &[ItemField]) {
        let (id, title) = self.names(reaction.id.as_deref(), reaction.title.as_deref());
        let mut ids = Ids::default();
        for structure in reaction.start.iter().chain(&reaction.answer) {
            ids.take_labels(structure, self.lost);
        }
        for name in
            reaction.arrows.iter().flatten().flat_map(|arrow| names_of(&arrow.tail).chain(names_of(&arrow.head)))
        {
            ids.take_label(name.label.clone(), self.lost);
        }
        let by_ids = reaction.answer.as_ref().is_some_and(Structure::has_labels);
        let attributes = [("id", id.as_deref()), ("title", title.as_deref()), ("atomMap", by_ids.then_some("USE_IDS"))];
        self.markup.open("reaction", &attributes);
        self.fields(fields);
        let spectators = reaction.spectators;
        self.side(("reactantList", "reactant"), reaction.start.as_ref(), spectators, &mut ids);
        self.side(("productList", "product"), reaction.answer.as_ref(), spectators, &mut ids);
        self.spectators(reaction, &mut ids);
        if let Some(arrows) = &reaction.arrows {
            self.arrows(arrows, &ids);
        }
        self.markup.close();
    }

    fn side(
        &mut self,
        (list, item): (&'static str, &'static str),
        side: Option<&Structure>,
        spectators: usize,
        ids: &mut Ids,
    ) {
        let Some(structure) = side else { return };
        let own = structure.atom_count().saturating_sub(spectators);
        self.markup.open(list, &[]);
        for (first, end) in species(structure, 0, own) {
            self.molecule(item, structure, first..end, ids);
        }
        self.markup.close();
    }

    fn spectators(&mut self, reaction: &Reaction, ids: &mut Ids) {
        let Some(structure) = reaction.start.as_ref().or(reaction.answer.as_ref()) else { return };
        let count = structure.atom_count();
        let first = count.saturating_sub(reaction.spectators);
        if first == count {
            return;
        }
        self.markup.open("spectatorList", &[]);
        for (first, end) in species(structure, first, count) {
            self.molecule("spectator", structure, first..end, ids);
        }
        self.markup.close();
    }

    fn molecule(&mut self, item: &'static str, structure: &Structure, atoms: std::ops::Range<usize>, ids: &mut Ids) {
        let part = structure.part(|atom| atoms.contains(&atom.index()));
        let id = self.molecules.as_mut().map(|count| {
            **count += 1;
            format!("m{count}")
        });
        self.markup.open(item, &[]);
        let root = Root { namespace: "", own: None, id: id.as_deref() };
        molecule::write(self.markup, &part, ids, Some(&root), self.lost);
        self.markup.close();
    }

    fn arrows(&mut self, arrows: &[DrawnArrow], ids: &Ids) {
        let convention = format!("{PREFIX}:{CONVENTION}");
        let dictionary = format!("{PREFIX}:{DICTIONARY}");
        self.markup.open("map", &[("convention", Some(&convention)), ("dictRef", Some(&dictionary))]);
        self.links(arrows, ids);
        self.markup.close();
    }

    fn links(&mut self, arrows: &[DrawnArrow], ids: &Ids) {
        for arrow in arrows {
            let role = ROLES.iter().find(|(_, moves)| *moves == arrow.moves).map(|(name, _)| *name);
            let (tail, head) = (ids_of(&arrow.tail, ids), ids_of(&arrow.head, ids));
            let (from, to) = (kind_of(&arrow.tail), kind_of(&arrow.head));
            let one = |kind, text| (kind == "atom").then_some(text);
            let set = |kind, text| (kind == "bond").then_some(text);
            self.markup.empty(
                "link",
                &[
                    ("from", one(from, tail.as_str())),
                    ("fromSet", set(from, tail.as_str())),
                    ("fromType", Some(from)),
                    ("to", one(to, head.as_str())),
                    ("toSet", set(to, head.as_str())),
                    ("toType", Some(to)),
                    ("role", role),
                ],
            );
        }
    }
}

fn names_of(place: &Place<AtomName>) -> impl Iterator<Item = &AtomName> {
    let (first, second) = match place {
        Place::Atom(a) => (a, None),
        Place::Bond(a, b) => (a, Some(b)),
    };
    std::iter::once(first).chain(second)
}

fn kind_of(place: &Place<AtomName>) -> &'static str {
    match place {
        Place::Atom(_) => "atom",
        Place::Bond(..) => "bond",
    }
}

fn ids_of(place: &Place<AtomName>, ids: &Ids) -> String {
    let id = |name: &AtomName| match name.hydrogen {
        None => ids.of(&name.label).to_owned(),
        Some(1) => format!("{}h", ids.of(&name.label)),
        Some(number) => format!("{}h{number}", ids.of(&name.label)),
    };
    names_of(place).map(id).collect::<Vec<_>>().join(" ")
}

/// Species that are written as molecules of their own; a drawing of more is written as one molecule.
const MOST_SPECIES: usize = 1_000;

/// The species among these atoms as ranges, where each is drawn in one stretch; else all of them as one range.
fn species(structure: &Structure, first: usize, end: usize) -> Vec<(usize, usize)> {
    let (of, count) = structure.species();
    let own = &of[first.min(of.len())..end.min(of.len())];
    if own.is_empty() {
        return Vec::new();
    }
    if count > MOST_SPECIES || own.windows(2).any(|pair| pair[0] > pair[1]) {
        return vec![(first, end)];
    }
    let mut ranges = Vec::new();
    let mut start = first;
    for (at, pair) in own.windows(2).enumerate() {
        if pair[0] != pair[1] {
            ranges.push((start, first + at + 1));
            start = first + at + 1;
        }
    }
    ranges.push((start, end));
    ranges
}
