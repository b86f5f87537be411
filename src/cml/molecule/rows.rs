//! Atoms, bonds and electrons as the elements and arrays state them, before anything is put together.

use super::super::UNLABELLED;
use super::super::fault::{Faults, Problem};
use super::super::names::{Key, Tag};
use super::super::tree::{NodeId, Tree};
use super::super::values::{self, Named};
use super::Frame;
use crate::limits::Limits;
use crate::source::Span;
use crate::structure::{Atom, Element};
use std::borrow::Cow;

/// Hydrogens of an atom at most: what SMILES can say.
const HYDROGENS: u16 = 9;

/// An atom as stated.
#[derive(Debug, Clone)]
pub(super) struct AtomRow {
    pub(super) id: Option<Box<str>>,
    pub(super) frame: u32,
    pub(super) unlabelled: bool,
    pub(super) atom: Atom,
    /// Whether an element is stated, readable or not.
    pub(super) has_element: bool,
    /// The stated total of hydrogens, drawn ones included.
    pub(super) hydrogens: Option<(u32, Span)>,
    pub(super) x: Option<i32>,
    pub(super) y: Option<i32>,
    pub(super) span: Span,
}

/// A bond as stated.
#[derive(Debug, Clone, Default)]
pub(super) struct BondRow {
    pub(super) id: Option<Box<str>>,
    pub(super) frame: u32,
    pub(super) ends: Vec<Box<str>>,
    pub(super) order: Option<Box<str>>,
    /// Where the order stands.
    pub(super) order_span: Span,
    /// Where the ends stand.
    pub(super) ends_span: Span,
    pub(super) many_centred: bool,
    pub(super) span: Span,
}

/// What an element of drawn electrons or of stereochemistry hangs on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Host {
    Molecule,
    Atom(u32),
    Bond(u32),
}

/// An `electron` element.
#[derive(Debug, Clone)]
pub(super) struct ElectronRow {
    pub(super) id: Option<Box<str>>,
    pub(super) frame: u32,
    pub(super) host: Host,
    pub(super) atoms: Vec<Box<str>>,
    pub(super) bonds: Vec<Box<str>>,
    pub(super) count: i64,
    pub(super) span: Span,
}

/// What a mark of stereochemistry says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum MarkKind {
    /// `atomParity`: whether the chiral volume is positive.
    Parity(bool),
    /// `bondStereo` C or T: whether the references lie on one side.
    Sides(bool),
    /// `bondStereo` W or H: whether the bond points to the viewer.
    Wedge(bool),
}

/// An `atomParity` or `bondStereo` element.
#[derive(Debug, Clone)]
pub(super) struct MarkRow {
    pub(super) kind: MarkKind,
    pub(super) frame: u32,
    pub(super) host: Host,
    pub(super) references: Vec<Box<str>>,
    pub(super) span: Span,
}

/// See the module.
#[derive(Debug, Default)]
pub(super) struct Rows {
    pub(super) frames: Vec<Frame>,
    pub(super) atoms: Vec<AtomRow>,
    pub(super) bonds: Vec<BondRow>,
    pub(super) electrons: Vec<ElectronRow>,
    pub(super) marks: Vec<MarkRow>,
    pub(super) refers_to: Option<(Box<str>, Span)>,
    pub(super) faults: Faults,
}

/// A value with the place where it stands.
pub(super) type Stated<'a> = (Cow<'a, str>, Span);

impl Rows {
    pub(super) fn read(tree: &Tree, node: NodeId, limits: &Limits) -> Self {
        let refers_to = tree.stated(node, Key::Ref).map(|(id, span)| (id.into(), span));
        let mut rows = Self { refers_to, ..Self::default() };
        // Molecules inside molecules, in the order of the document.
        let mut open = vec![(node, None)];
        while let Some((molecule, parent)) = open.pop() {
            let frame = rows.frame(tree, molecule, parent);
            for child in tree.children(molecule) {
                rows.part(tree, child, frame, limits);
            }
            let inner: Vec<NodeId> = tree.children_of(molecule, Tag::Molecule).collect();
            open.extend(inner.into_iter().rev().map(|inner| (inner, Some(frame))));
        }
        rows
    }

    fn frame(&mut self, tree: &Tree, node: NodeId, parent: Option<u32>) -> u32 {
        let around = parent.and_then(|parent| self.frames.get(parent as usize));
        let (around_count, around_unlabelled) = around.map_or((1, false), |frame| (frame.count, frame.unlabelled));
        let count = count(tree, node, &mut self.faults).saturating_mul(around_count);
        let unlabelled = around_unlabelled || is_unlabelled(tree, node);
        let frame = Frame {
            id: tree.stated(node, Key::Id).map(|(id, _)| id.into()),
            count,
            parent,
            unlabelled,
            charge: self.whole(tree, node, Key::FormalCharge),
            spin: self.whole(tree, node, Key::SpinMultiplicity),
        };
        self.frames.push(frame);
        self.frames.len() as u32 - 1
    }

    fn part(&mut self, tree: &Tree, node: NodeId, frame: u32, limits: &Limits) {
        match tree.tag(node) {
            Tag::AtomArray => self.atom_array(tree, node, frame, limits),
            Tag::Atom => self.atom(tree, node, frame, limits),
            Tag::BondArray => self.bond_array(tree, node, frame, limits),
            Tag::Bond => self.bond(tree, node, frame, limits),
            Tag::Electron => self.electron(tree, node, frame, Host::Molecule),
            Tag::BondStereo => self.mark(tree, node, frame, Host::Molecule),
            _ => {}
        }
    }

    pub(super) fn fault(&mut self, problem: Problem, span: Span) {
        self.faults.push(problem, span);
    }

    fn whole(&mut self, tree: &Tree, node: NodeId, key: Key) -> Option<(i64, Span)> {
        let (text, span) = tree.stated(node, key)?;
        let value = values::whole(&text);
        if value.is_none() {
            let element = tree.tag(node).name();
            self.fault(bad_value(key, &text, element, "a whole number"), span);
        }
        value.map(|value| (value, span))
    }

    fn room_for_atom(&mut self, limits: &Limits, span: Span) -> bool {
        if self.atoms.len() < limits.atoms {
            return true;
        }
        let problem = Problem::Limit { limit: "atoms", cap: limits.atoms };
        if !self.faults.ends_with(&problem) {
            self.fault(problem, span);
        }
        false
    }

    fn atom_array(&mut self, tree: &Tree, node: NodeId, frame: u32, limits: &Limits) {
        let columns = columns(tree, node, &[Key::AtomId, Key::Id]);
        let length = self.equal_lengths(&columns, &[Key::AtomId, Key::Id], tree.span(node));
        for at in 0..length {
            let cells = columns.iter().filter_map(|(key, cells)| cells.get(at).map(|cell| (*key, cell)));
            let span = cells.clone().next().map_or(tree.span(node), |(_, cell)| cell.1);
            if !self.room_for_atom(limits, span) {
                return;
            }
            let mut row = AtomRow::new(frame, span);
            for (key, (text, span)) in cells {
                row.set(if key == Key::AtomId { Key::Id } else { key }, text, *span, &mut self.faults);
            }
            self.atoms.push(row);
        }
        for child in tree.children(node) {
            match tree.tag(child) {
                Tag::Atom => self.atom(tree, child, frame, limits),
                Tag::Electron => self.electron(tree, child, frame, Host::Molecule),
                _ => {}
            }
        }
    }

    fn atom(&mut self, tree: &Tree, node: NodeId, frame: u32, limits: &Limits) {
        if !self.room_for_atom(limits, tree.span(node)) {
            return;
        }
        let mut row = AtomRow::new(frame, tree.span(node));
        row.unlabelled = is_unlabelled(tree, node);
        for key in ATOM_KEYS {
            if let Some((text, span)) = tree.stated(node, key) {
                row.set(key, &text, span, &mut self.faults);
            }
        }
        let host = Host::Atom(self.atoms.len() as u32);
        for child in tree.children(node) {
            match tree.tag(child) {
                Tag::Electron => self.electron(tree, child, frame, host),
                Tag::AtomParity => self.mark(tree, child, frame, host),
                Tag::Coordinate2 => row.set_point(tree.text(child), tree.span(child), &mut self.faults),
                _ => {
                    if let Some((key, (text, span))) = builtin(tree, child) {
                        let key = if key == Key::AtomId { Key::Id } else { key };
                        row.set(key, &text, span, &mut self.faults);
                    }
                }
            }
        }
        self.atoms.push(row);
    }

    /// The number of rows that columns make: that of the first key that is there, else of the first column. Columns of
    /// other lengths are a fault.
    pub(super) fn equal_lengths(&mut self, columns: &[(Key, Vec<Stated>)], lead: &[Key], span: Span) -> usize {
        let leading = lead.iter().find_map(|key| columns.iter().find(|(own, _)| own == key));
        let Some((lead_key, lead_cells)) = leading.or(columns.first()) else { return 0 };
        for (key, cells) in columns.iter().filter(|(_, cells)| cells.len() != lead_cells.len()) {
            let place = cells.last().map_or(span, |cell| cell.1);
            let (own, lead) = ((key.name(), cells.len()), (lead_key.name(), lead_cells.len()));
            let (longer, shorter) = if own.1 > lead.1 { (own, lead) } else { (lead, own) };
            let problem =
                Problem::UnequalArrays { longer: longer.0, long: longer.1, shorter: shorter.0, short: shorter.1 };
            self.fault(problem, place);
        }
        lead_cells.len()
    }
}

/// Attributes of an `atom` that are read, in this order.
const ATOM_KEYS: [Key; 8] = [
    Key::Id,
    Key::ElementType,
    Key::FormalCharge,
    Key::HydrogenCount,
    Key::IsotopeNumber,
    Key::SpinMultiplicity,
    Key::X2,
    Key::Y2,
];

impl AtomRow {
    fn new(frame: u32, span: Span) -> Self {
        Self {
            id: None,
            frame,
            unlabelled: false,
            atom: Atom::new(Element::ANY),
            has_element: false,
            hydrogens: None,
            x: None,
            y: None,
            span,
        }
    }

    fn set(&mut self, key: Key, text: &str, span: Span, faults: &mut Faults) {
        let wanted = match key {
            Key::Id => {
                self.id = Some(text.into());
                return;
            }
            Key::ElementType => {
                self.set_element(text, span, faults);
                return;
            }
            Key::FormalCharge => match values::whole(text).and_then(|charge| i16::try_from(charge).ok()) {
                Some(charge) => return self.atom.charge = charge,
                None => "a charge",
            },
            Key::HydrogenCount => match values::whole(text)
                .and_then(|count| u16::try_from(count).ok())
                .filter(|count| *count <= HYDROGENS)
            {
                Some(count) => return self.hydrogens = Some((u32::from(count), span)),
                None => "a number of hydrogens from 0 to 9",
            },
            Key::IsotopeNumber => match mass_number(text) {
                Some(mass) => return self.atom.isotope = Some(mass),
                None => "a mass number",
            },
            Key::SpinMultiplicity => match values::whole(text).and_then(|spin| u8::try_from(spin.checked_sub(1)?).ok())
            {
                Some(unpaired) => return self.atom.unpaired = Some(unpaired),
                None => "a spin multiplicity",
            },
            Key::X2 | Key::Y2 => match values::decimal(text) {
                Some(value) if key == Key::X2 => return self.x = Some(value),
                Some(value) => return self.y = Some(value),
                None => "a coordinate",
            },
            _ => return,
        };
        faults.push(bad_value(key, text, Tag::Atom.name(), wanted), span);
    }

    fn set_element(&mut self, text: &str, span: Span, faults: &mut Faults) {
        self.has_element = true;
        let problem = match values::element(text) {
            Named::Element(element) => {
                self.atom.element = element;
                return;
            }
            Named::Dummy => Problem::Dummy(self.id.as_deref().unwrap_or("without an id").to_owned()),
            Named::Unknown => Problem::UnknownElement(clipped(text)),
        };
        faults.push(problem, span);
    }

    /// The two numbers of a `coordinate2`.
    fn set_point(&mut self, text: &str, span: Span, faults: &mut Faults) {
        let mut numbers = text.split_ascii_whitespace();
        for key in [Key::X2, Key::Y2] {
            if let Some(number) = numbers.next() {
                self.set(key, number, span, faults);
            }
        }
    }
}

/// A mass number, from a whole number or from a nuclear mass, which the schema allows too.
fn mass_number(text: &str) -> Option<u16> {
    const PARTS: i32 = 10_000;
    let mass = values::decimal(text)?;
    u16::try_from(mass.saturating_add(PARTS / 2) / PARTS).ok().filter(|_| mass >= 0)
}

/// How often an element is there, by its `count`. One that is no positive whole number is a fault.
pub(crate) fn count(tree: &Tree, node: NodeId, faults: &mut Faults) -> u32 {
    let Some((text, span)) = tree.stated(node, Key::Count) else { return 1 };
    let count = values::whole(&text).and_then(|count| u32::try_from(count).ok()).filter(|count| *count > 0);
    count.unwrap_or_else(|| {
        let problem = bad_value(Key::Count, &text, tree.tag(node).name(), "a positive whole number");
        faults.push(problem, span);
        1
    })
}

fn is_unlabelled(tree: &Tree, node: NodeId) -> bool {
    tree.value(node, Key::Convention).is_some_and(|value| value.rsplit(':').next() == Some(UNLABELLED))
}

pub(super) fn bad_value(key: Key, value: &str, element: &'static str, wanted: &'static str) -> Problem {
    Problem::Value { key: key.name(), value: clipped(value), element, wanted }
}

/// A value as a message shows it: it may be as long as a record.
pub(crate) fn clipped(text: &str) -> String {
    crate::source::clipped(text, 40)
}

/// The name and value of a CML-1 element, `<string builtin="elementType">C</string>`.
pub(super) fn builtin(tree: &Tree, node: NodeId) -> Option<(Key, Stated<'_>)> {
    let is_value = matches!(tree.tag(node), Tag::StringValue | Tag::Float | Tag::Integer);
    let key = is_value.then(|| tree.value(node, Key::Builtin)).flatten().and_then(|name| Key::from_name(&name))?;
    Some((key, (Cow::Borrowed(tree.text(node)), tree.span(node))))
}

/// The arrays of an `atomArray` or `bondArray`, from its attributes and from the arrays of CML 1 inside it. An attribute
/// that is not an array's (the element's own id) is among `lead` only if CML 1 uses the name for an array.
pub(super) fn columns<'a>(tree: &'a Tree, node: NodeId, lead: &[Key]) -> Vec<(Key, Vec<Stated<'a>>)> {
    let mut columns = Vec::new();
    for key in ARRAY_KEYS {
        if let Some(span) = tree.value_span(node, key) {
            let cells = words(span.of(&tree.source), span.start as usize);
            columns.push((key, cells));
        }
    }
    for child in tree.children(node) {
        if matches!(tree.tag(child), Tag::StringArray | Tag::FloatArray | Tag::IntegerArray) {
            let key = tree.value(child, Key::Builtin).and_then(|name| Key::from_name(&name));
            let known = key.filter(|key| ARRAY_KEYS.contains(key) || lead.contains(key));
            if let Some(key) = known {
                let span = tree.span(child);
                let cells = tree.text(child).split_ascii_whitespace().map(|word| (Cow::Borrowed(word), span)).collect();
                columns.push((key, cells));
            }
        }
    }
    columns
}

/// Attributes whose value is an array, in the order in which their values are set.
const ARRAY_KEYS: [Key; 17] = [
    Key::AtomId,
    Key::BondId,
    Key::ElementType,
    Key::FormalCharge,
    Key::HydrogenCount,
    Key::IsotopeNumber,
    Key::SpinMultiplicity,
    Key::X2,
    Key::Y2,
    Key::AtomRef1,
    Key::AtomRef2,
    Key::AtomRefs2,
    Key::AtomRef,
    Key::Order,
    // Not read, but arrays of one element must be of one length.
    Key::X3,
    Key::Y3,
    Key::Z3,
];

/// The words of an attribute's raw value, each with its place.
pub(super) fn words(text: &str, start: usize) -> Vec<Stated<'_>> {
    let base = text.as_ptr().addr();
    let place = |word: &str| {
        let at = start + word.as_ptr().addr() - base;
        Span::new(at, at + word.len())
    };
    text.split_ascii_whitespace().map(|word| (crate::xml::plain_value(word), place(word))).collect()
}
