//! Bonds, drawn electrons and marks of stereochemistry as they are stated.

use super::super::fault::Problem;
use super::super::names::{Key, Tag};
use super::super::tree::{NodeId, Tree};
use super::super::values;
use super::rows::{self, BondRow, ElectronRow, Host, MarkKind, MarkRow, Rows};
use crate::limits::Limits;
use crate::source::Span;
use std::cmp::Ordering;

impl Rows {
    fn room_for_bond(&mut self, limits: &Limits, span: Span) -> bool {
        if self.bonds.len() < limits.bonds {
            return true;
        }
        let problem = Problem::Limit { limit: "bonds", cap: limits.bonds };
        if !self.faults.ends_with(&problem) {
            self.fault(problem, span);
        }
        false
    }

    pub(super) fn bond_array(&mut self, tree: &Tree, node: NodeId, frame: u32, limits: &Limits) {
        let columns = rows::columns(tree, node, &[Key::AtomRef]);
        let length = self.equal_lengths(&columns, &[Key::AtomRef1, Key::AtomRef], tree.span(node));
        for at in 0..length {
            let span = columns.first().and_then(|(_, cells)| cells.get(at)).map_or(tree.span(node), |cell| cell.1);
            if !self.room_for_bond(limits, span) {
                return;
            }
            let mut row = BondRow { frame, span, order_span: span, ends_span: span, ..BondRow::default() };
            for (key, cells) in &columns {
                if let Some((text, span)) = cells.get(at) {
                    row.set(*key, text, *span);
                }
            }
            self.bonds.push(row);
        }
        for child in tree.children(node) {
            match tree.tag(child) {
                Tag::Bond => self.bond(tree, child, frame, limits),
                Tag::Electron => self.electron(tree, child, frame, Host::Molecule),
                Tag::BondStereo => self.mark(tree, child, frame, Host::Molecule),
                _ => {}
            }
        }
    }

    pub(super) fn bond(&mut self, tree: &Tree, node: NodeId, frame: u32, limits: &Limits) {
        let span = tree.span(node);
        if !self.room_for_bond(limits, span) {
            return;
        }
        let mut row = BondRow { frame, span, order_span: span, ends_span: span, ..BondRow::default() };
        for key in [Key::Id, Key::AtomRefs2, Key::Order] {
            if let Some((text, span)) = tree.stated(node, key) {
                row.set(key, &text, span);
            }
        }
        row.many_centred = tree.stated(node, Key::AtomRefs).is_some() || tree.stated(node, Key::BondRefs).is_some();
        let host = Host::Bond(self.bonds.len() as u32);
        for child in tree.children(node) {
            match tree.tag(child) {
                Tag::Electron => self.electron(tree, child, frame, host),
                Tag::BondStereo => self.mark(tree, child, frame, host),
                _ => self.builtin_of_bond(tree, child, frame, &mut row, host),
            }
        }
        self.bonds.push(row);
    }

    fn builtin_of_bond(&mut self, tree: &Tree, node: NodeId, frame: u32, row: &mut BondRow, host: Host) {
        if let Some((key, (text, span))) = rows::builtin(tree, node) {
            row.set(key, &text, span);
            return;
        }
        // CML 1 called the mark of a bond `stereo`.
        let is_mark = tree.tag(node) == Tag::StringValue && tree.value(node, Key::Builtin).as_deref() == Some("stereo");
        if let Some(kind) = bond_mark(tree.text(node)).filter(|_| is_mark) {
            self.marks.push(MarkRow { kind, frame, host, references: Vec::new(), span: tree.span(node) });
        }
    }

    pub(super) fn electron(&mut self, tree: &Tree, node: NodeId, frame: u32, host: Host) {
        let count = match tree.stated(node, Key::Count) {
            None => 1,
            Some((text, span)) => values::whole(&text).filter(|count| *count > 0).unwrap_or_else(|| {
                let wanted = "a number of electrons";
                self.fault(rows::bad_value(Key::Count, &text, Tag::Electron.name(), wanted), span);
                1
            }),
        };
        let ids = |keys: [Key; 2]| -> Vec<Box<str>> {
            let values = keys.into_iter().filter_map(|key| tree.value(node, key));
            values.flat_map(|value| value.split_ascii_whitespace().map(Box::from).collect::<Vec<_>>()).collect()
        };
        self.electrons.push(ElectronRow {
            id: tree.stated(node, Key::Id).map(|(id, _)| id.into()),
            frame,
            host,
            atoms: ids([Key::AtomRef, Key::AtomRefs]),
            bonds: ids([Key::BondRef, Key::BondRefs]),
            count,
            span: tree.span(node),
        });
    }

    pub(super) fn mark(&mut self, tree: &Tree, node: NodeId, frame: u32, host: Host) {
        let kind = match tree.tag(node) {
            Tag::AtomParity => parity(tree.text(node)),
            _ => bond_mark(tree.text(node)).or_else(|| mol_file_mark(tree, node)),
        };
        // No sign, `undefined` or `other`: nothing is marked.
        let Some(kind) = kind else { return };
        let references = tree.value(node, Key::AtomRefs4).unwrap_or_default();
        let references = references.split_ascii_whitespace().map(Box::from).collect();
        self.marks.push(MarkRow { kind, frame, host, references, span: tree.span(node) });
    }
}

impl BondRow {
    fn set(&mut self, key: Key, text: &str, span: Span) {
        match key {
            Key::Id | Key::BondId => self.id = Some(text.into()),
            Key::AtomRef | Key::AtomRef1 | Key::AtomRef2 | Key::AtomRefs2 => {
                self.ends.extend(text.split_ascii_whitespace().map(Box::from));
                self.ends_span = if self.ends_span == self.span { span } else { self.ends_span.join(span) };
            }
            Key::Order => {
                self.order = Some(text.into());
                self.order_span = span;
            }
            _ => {}
        }
    }
}

/// The sign of a parity. Nought is "coincident or planar" by the schema, no mark.
fn parity(text: &str) -> Option<MarkKind> {
    match values::sign(text)? {
        Ordering::Equal => None,
        sign => Some(MarkKind::Parity(sign == Ordering::Greater)),
    }
}

fn bond_mark(text: &str) -> Option<MarkKind> {
    match text.trim() {
        "C" => Some(MarkKind::Sides(true)),
        "T" => Some(MarkKind::Sides(false)),
        "W" => Some(MarkKind::Wedge(true)),
        "H" => Some(MarkKind::Wedge(false)),
        _ => None,
    }
}

/// A mark in the numbers of the MDL connection table (1 is a wedge, 6 a hatch), which programs write as a convention.
fn mol_file_mark(tree: &Tree, node: NodeId) -> Option<MarkKind> {
    match &*tree.value(node, Key::ConventionValue)? {
        "1" => Some(MarkKind::Wedge(true)),
        "6" => Some(MarkKind::Wedge(false)),
        _ => None,
    }
}
