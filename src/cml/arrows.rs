//! Maps: links that move electrons, and links that say which atom became which.

use super::fault::{Faults, Problem};
use super::molecule::clipped;
use super::names::{Key, Tag};
use super::side::{NamedBond, Side};
use super::tree::{NodeId, Tree};
use crate::arrows::{AtomName, DrawnArrow, Moves, Place};
use crate::limits::Limits;
use crate::source::Span;
use crate::structure::{AtomId, Label, LabelIndex, Structure};
use rustc_hash::FxHashMap;
use smallvec::SmallVec;

/// The local part of the `convention` of a map of arrows.
pub(super) const CONVENTION: &str = "electronFlow";
/// The local part of its `dictRef`.
pub(super) const DICTIONARY: &str = "arrows";
/// The roles of its links.
pub(super) const ROLES: [(&str, Moves); 2] = [("pair", Moves::Pair), ("single", Moves::Single)];

fn role(name: &str) -> Option<Moves> {
    ROLES.iter().find(|(own, _)| *own == name).map(|(_, moves)| *moves)
}

/// Whether a map's links are arrows: it says so by its convention or its dictionary, or its links have the roles of arrows.
pub(super) fn is_arrow_map(tree: &Tree, map: NodeId) -> bool {
    let is = |key: Key, name: &str| tree.value(map, key).is_some_and(|value| value.rsplit(':').next() == Some(name));
    let has_role = |node: NodeId| tree.value(node, Key::Role).is_some_and(|name| role(&name).is_some());
    is(Key::Convention, CONVENTION)
        || is(Key::DictRef, DICTIONARY)
        || has_role(map)
        || tree.children_of(map, Tag::Link).any(has_role)
}

/// Whether a map's links lead from atoms to atoms.
pub(super) fn is_atom_map(tree: &Tree, map: NodeId) -> bool {
    let typed = |node: NodeId| {
        let atom = |key| tree.value(node, key).is_some_and(|value| value.rsplit(':').next() == Some(Tag::Atom.name()));
        atom(Key::FromType) && atom(Key::ToType)
    };
    !is_arrow_map(tree, map) && (typed(map) || tree.children_of(map, Tag::Link).next().is_some_and(typed))
}

/// Gives the products the labels that an atom map says. Products that it leaves out have none.
pub(super) fn label_by_map(tree: &Tree, map: NodeId, start: &Side, answer: &mut Side) {
    let labels = mapped_labels(tree, map, start, answer);
    answer.structure.clear_labels();
    for (atom, label) in labels {
        answer.structure.set_label(atom, &label);
    }
}

fn mapped_labels(tree: &Tree, map: NodeId, start: &Side, answer: &Side) -> Vec<(AtomId, Label)> {
    let (of_start, of_answer) = (Finder::new(start), Finder::new(answer));
    let mut labels = Vec::new();
    for link in tree.children_of(map, Tag::Link) {
        let end = |key, context| tree.value(link, key).map(|id| (id, tree.value(link, context)));
        let (Some(from), Some(to)) = (end(Key::From, Key::FromContext), end(Key::To, Key::ToContext)) else { continue };
        let pair = |from: &(_, Option<_>), to: &(_, Option<_>)| {
            let before: Option<AtomId> = of_start.atom(from.0, from.1);
            let after = of_answer.atom(to.0, to.1);
            before.zip(after)
        };
        let from = (&*from.0, from.1.as_deref());
        let to = (&*to.0, to.1.as_deref());
        // Maps are written from reactants to products; one the other way round means the same.
        if let Some((before, after)) = pair(&from, &to).or_else(|| pair(&to, &from))
            && let Some(label) = start.structure.label(before)
        {
            labels.push((after, label));
        }
    }
    labels
}

/// Finds what ids name on one side.
pub(super) struct Finder<'a> {
    side: &'a Side,
    labels: LabelIndex,
    atoms: FxHashMap<&'a str, SmallVec<[AtomId; 1]>>,
    bonds: FxHashMap<&'a str, SmallVec<[&'a NamedBond; 1]>>,
    electrons: FxHashMap<&'a str, Option<Place<AtomId>>>,
}

impl<'a> Finder<'a> {
    pub(super) fn new(side: &'a Side) -> Self {
        let mut bonds: FxHashMap<&str, SmallVec<[&NamedBond; 1]>> = FxHashMap::default();
        for bond in &side.bonds {
            bonds.entry(&bond.id).or_default().push(bond);
        }
        // Of two electrons with one id the first is found.
        let electrons = side.electrons.iter().rev().map(|own| (&*own.id, own.place)).collect();
        Self { side, labels: LabelIndex::new(&side.structure), atoms: side.atoms_with_id(), bonds, electrons }
    }

    /// The atom with this label; else the only one with this id, in the molecule `context` where one is named.
    fn atom(&self, id: &str, context: Option<&str>) -> Option<AtomId> {
        let context = context.filter(|context| !context.is_empty());
        if context.is_none()
            && let Some(atom) = self.labels.get(&Label::from_text(id))
        {
            return Some(atom);
        }
        let of_context = |atom: &AtomId| context.is_none_or(|context| self.side.molecule_of(*atom) == Some(context));
        let mut found = self.with_id(id).iter().copied().filter(of_context);
        let first = found.next()?;
        found.next().is_none().then_some(first)
    }

    fn with_id(&self, id: &str) -> &[AtomId] {
        self.atoms.get(id).map_or(&[], SmallVec::as_slice)
    }

    /// The ends of the bonds with this id.
    fn bonds(&self, id: &str, context: Option<&str>) -> SmallVec<[(AtomId, AtomId); 1]> {
        let of_context = |bond: &&&NamedBond| {
            context.is_none_or(|context| context.is_empty() || bond.molecule.as_deref() == Some(context))
        };
        self.bonds.get(id).into_iter().flatten().filter(of_context).map(|bond| bond.ends).collect()
    }
}

/// The keys of one end of a link, and how messages call it.
struct End {
    one: Key,
    set: Key,
    kind: Key,
    context: Key,
    name: &'static str,
    both: &'static str,
    /// Whether electrons leave here.
    is_tail: bool,
}

const TAIL: End = End {
    one: Key::From,
    set: Key::FromSet,
    kind: Key::FromType,
    context: Key::FromContext,
    name: "from or fromSet",
    both: "from and fromSet",
    is_tail: true,
};
const HEAD: End = End {
    one: Key::To,
    set: Key::ToSet,
    kind: Key::ToType,
    context: Key::ToContext,
    name: "to or toSet",
    both: "to and toSet",
    is_tail: false,
};

/// Reads the links of maps as arrows, in their order.
pub(super) fn read(
    tree: &Tree,
    maps: &[NodeId],
    start: &Side,
    answer: &Side,
    limits: &Limits,
    faults: &mut Faults,
) -> Vec<DrawnArrow> {
    let reader = LinkReader { tree, start: Finder::new(start), answer: Finder::new(answer) };
    let mut arrows = Vec::new();
    for map in maps {
        for link in tree.children_of(*map, Tag::Link) {
            if arrows.len() > limits.arrows {
                return arrows;
            }
            match reader.arrow(*map, link) {
                Ok(arrow) => arrows.push(arrow),
                Err((problem, span)) => faults.push(problem, span),
            }
        }
    }
    arrows
}

struct LinkReader<'a> {
    tree: &'a Tree,
    start: Finder<'a>,
    answer: Finder<'a>,
}

/// A word of an attribute, with its place.
type Word<'a> = (&'a str, Span);

impl LinkReader<'_> {
    fn arrow(&self, map: NodeId, link: NodeId) -> Result<DrawnArrow, (Problem, Span)> {
        let tree = self.tree;
        let moves = match tree.stated(link, Key::Role).or_else(|| tree.stated(map, Key::Role)) {
            None => Moves::Pair,
            Some((name, span)) => role(&name).ok_or_else(|| (Problem::LinkRole(clipped(&name)), span))?,
        };
        let tail = self.end(map, link, &TAIL)?;
        let head = self.end(map, link, &HEAD)?;
        Ok(DrawnArrow { moves, tail, head, span: tree.span(link) })
    }

    fn end(&self, map: NodeId, link: NodeId, end: &End) -> Result<Place<AtomName>, (Problem, Span)> {
        let tree = self.tree;
        let inherited = |key| tree.value(link, key).filter(|value| !value.is_empty()).or_else(|| tree.value(map, key));
        let (text, span) = match (tree.stated(link, end.set), tree.stated(link, end.one)) {
            (Some(stated), None) | (None, Some(stated)) => stated,
            (None, None) => return Err((Problem::LinkEnd(end.name), tree.span(link))),
            (Some(_), Some((_, span))) => return Err((Problem::LinkTwice(end.both), span)),
        };
        let context = inherited(end.context);
        let words: SmallVec<[Word; 2]> = words(&text, span);
        match words[..] {
            [one] => {
                let kind = inherited(end.kind).unwrap_or_default();
                let kind = kind.rsplit(':').next().unwrap_or_default();
                self.one(one, kind, context.as_deref(), end.is_tail).map_err(|problem| (problem, one.1))
            }
            [a, b] => {
                let name = |word: Word| self.atom(word, context.as_deref()).map_err(|problem| (problem, word.1));
                Ok(Place::Bond(name(a)?, name(b)?))
            }
            _ => Err((Problem::LinkAtoms(words.len()), span)),
        }
    }

    /// The place that one id names.
    fn one(&self, word: Word, kind: &str, context: Option<&str>, is_tail: bool) -> Result<Place<AtomName>, Problem> {
        match kind {
            "atom" => self.atom(word, context).map(Place::Atom),
            "bond" => self.bond(word, context, is_tail)?.ok_or_else(|| missing("bond", word)),
            "electron" => self.electrons(word, is_tail)?.ok_or_else(|| missing("electron", word)),
            "" => self.untyped(word, context, is_tail),
            other => Err(Problem::LinkType(clipped(other))),
        }
    }

    fn untyped(&self, word: Word, context: Option<&str>, is_tail: bool) -> Result<Place<AtomName>, Problem> {
        let is_atom = self.start.atom(word.0, context).is_some() || self.start.with_id(word.0).len() > 1;
        let bond = self.bond(word, context, is_tail)?;
        let electrons = self.electrons(word, is_tail)?;
        match (is_atom, bond, electrons) {
            (false, Some(place), None) | (false, None, Some(place)) => Ok(place),
            // What is nothing on this side is an atom that the start does not have, which is judged with the arrows.
            (_, None, None) => self.atom(word, context).map(Place::Atom),
            _ => Err(Problem::LinkAmbiguous(clipped(word.0))),
        }
    }

    /// The name of an atom of the start, or of one of its undrawn hydrogens.
    fn atom(&self, word: Word, context: Option<&str>) -> Result<AtomName, Problem> {
        let (id, span) = word;
        if let Some(atom) = self.start.atom(id, context) {
            return Ok(atom_name(&self.start.side.structure, atom, span).unwrap_or_else(|| plain(id, None, span)));
        }
        if self.start.with_id(id).len() > 1 {
            return Err(Problem::LinkAmbiguous(clipped(id)));
        }
        if let Some((carrier, hydrogen)) = hydrogen_of(id)
            && let Some(atom) = self.start.atom(carrier, context)
            && let Some(name) = atom_name(&self.start.side.structure, atom, span)
        {
            return Ok(AtomName { hydrogen: Some(hydrogen), ..name });
        }
        Ok(plain(id, None, span))
    }

    /// The bond with an id: one of the start, or for a head one that only the answer has.
    fn bond(&self, word: Word, context: Option<&str>, is_tail: bool) -> Result<Option<Place<AtomName>>, Problem> {
        let (id, span) = word;
        let before = self.start.bonds(id, context);
        let after = if is_tail { SmallVec::new() } else { self.answer.bonds(id, context) };
        if before.len() > 1 || (before.is_empty() && after.len() > 1) {
            return Err(Problem::LinkAmbiguous(clipped(id)));
        }
        let ends = |of: &Finder, (a, b)| named(&of.side.structure, Place::Bond(a, b), span);
        let before = before.first().map(|own| ends(&self.start, *own));
        let after = after.first().map(|own| ends(&self.answer, *own));
        let same = |a: &Place<AtomName>, b: &Place<AtomName>| ends_of(a) == ends_of(b);
        match (before, after) {
            (None, None) => Ok(None),
            (Some(Some(place)), None | Some(None)) | (None, Some(Some(place))) => Ok(Some(place)),
            (Some(Some(before)), Some(Some(after))) if same(&before, &after) => Ok(Some(before)),
            // The same bond id is another bond in the answer: it may be either that electrons come to.
            (Some(_), Some(_)) => Err(Problem::LinkAmbiguous(clipped(id))),
            (Some(None), None) | (None, Some(None)) => Err(missing("bond between labelled atoms", word)),
        }
    }

    fn electrons(&self, word: Word, is_tail: bool) -> Result<Option<Place<AtomName>>, Problem> {
        let finder = if is_tail { &self.start } else { &self.answer };
        let Some(place) = finder.electrons.get(word.0) else { return Ok(None) };
        let unknown = || Problem::ElectronPlace(clipped(word.0));
        let place = place.ok_or_else(unknown)?;
        named(&finder.side.structure, place, word.1).map(Some).ok_or_else(unknown)
    }
}

fn atom_name(structure: &Structure, atom: AtomId, span: Span) -> Option<AtomName> {
    structure.label(atom).map(|label| AtomName { label, hydrogen: None, span })
}

/// A place under the labels of a drawing.
pub(super) fn named(structure: &Structure, place: Place<AtomId>, span: Span) -> Option<Place<AtomName>> {
    let name = |atom| atom_name(structure, atom, span);
    Some(match place {
        Place::Atom(atom) => Place::Atom(name(atom)?),
        Place::Bond(a, b) => Place::Bond(name(a)?, name(b)?),
    })
}

fn plain(id: &str, hydrogen: Option<u32>, span: Span) -> AtomName {
    AtomName { label: Label::from_text(id), hydrogen, span }
}

fn missing(kind: &'static str, word: Word) -> Problem {
    Problem::LinkTarget { kind, id: clipped(word.0) }
}

/// `a3h` is a hydrogen that atom a3 carries undrawn, `a3h2` a second one.
fn hydrogen_of(id: &str) -> Option<(&str, u32)> {
    let stem = id.trim_end_matches(|c: char| c.is_ascii_digit());
    let number = &id[stem.len()..];
    let carrier = stem.strip_suffix('h')?;
    let number = if number.is_empty() { 1 } else { number.parse().ok().filter(|number| *number > 0)? };
    (!carrier.is_empty()).then_some((carrier, number))
}

/// The labels of a bond, whatever their order.
fn ends_of(place: &Place<AtomName>) -> Option<[&Label; 2]> {
    match place {
        Place::Bond(a, b) => Some([(&a.label).min(&b.label), (&a.label).max(&b.label)]),
        Place::Atom(_) => None,
    }
}

/// The words of a value whose raw text stands at `span`. Where references make the two differ, all words stand at the whole.
fn words(text: &str, span: Span) -> SmallVec<[Word<'_>; 2]> {
    let base = text.as_ptr().addr();
    let exact = text.len() <= (span.end - span.start) as usize && !text.contains('&');
    let place = |word: &str| {
        let at = span.start as usize + word.as_ptr().addr() - base;
        if exact { Span::new(at, at + word.len()) } else { span }
    };
    text.split_ascii_whitespace().map(|word| (word, place(word))).collect()
}
