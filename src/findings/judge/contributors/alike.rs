//! Contributors that are one drawing: copies, and the forms of a symmetric compound that nothing but labels tells apart.
//!
//! The two oxygen forms of a carboxylate are one drawing once their labels are gone. An author who draws both writes one
//! drawing twice, and means two. Two forms of a compound that are one drawing are exchanged by a symmetry of its sigma skeleton
//! (the map of one drawing onto the other is that symmetry), so that counting forms with equal drawings counts the twins.

use super::{NAMED, Set, Stated, print};
use crate::bank::Drawing;
use crate::bank::key::letter as option_letter;
use crate::compare::{decide, same_drawing};
use crate::findings::judge::choice::join_and;
use crate::findings::role::Role;
use crate::findings::{Finding, Name};
use crate::resonance::{Bounds, Contributors, contributors};
use crate::smiles::{self, Labels};
use crate::structure::{LabelIndex, Structure};
use rustc_hash::FxHashMap;

/// How many forms of the compound are one drawing.
struct Twins {
    count: usize,
    /// Whether there may be more, because a search met its limit.
    may_be_more: bool,
}

/// Stated contributors that are one drawing, copies left out.
struct Group<'s, 'a> {
    print: u128,
    /// Never empty.
    members: Vec<&'s Stated<'a>>,
}

impl Set<'_> {
    /// Reports copies, and names the contributors that only labels could tell apart.
    pub(super) fn alike(&self, all: &Contributors, stated: &[Stated<'_>], findings: &mut Vec<Finding>) {
        let mut forms: FxHashMap<u128, usize> = FxHashMap::default();
        for own in &all.list {
            *forms.entry(print(&own.structure)).or_default() += 1;
        }
        let (mut told, mut first_of) = (Vec::new(), None);
        for group in self.groups(stated, findings) {
            let listed = forms.get(&group.print).copied().unwrap_or(0);
            let twins = self.twins(all, listed, &group);
            let (mut members, mut beyond) = (group.members, Vec::new());
            if !twins.may_be_more && members.len() > twins.count {
                beyond = members.split_off(twins.count);
            }
            findings.extend(beyond.iter().map(|own| one_too_many(own, &members)));
            if let Some(words) = indistinct(&members, &twins) {
                first_of.get_or_insert(members[0]);
                told.push(words);
            }
        }
        if let Some(first) = first_of {
            let stated = smiles::write(&first.structure, Labels::Classes);
            let message = told.join("; ");
            findings.push(Finding { stated, ..Finding::new(Name::IndistinctContributor, message) });
        }
    }

    /// The stated contributors by drawing, in order; copies are reported and left out.
    fn groups<'s, 'a>(&self, stated: &'s [Stated<'a>], findings: &mut Vec<Finding>) -> Vec<Group<'s, 'a>> {
        let mut groups: Vec<Group<'_, '_>> = Vec::new();
        // Equal drawings have equal fingerprints: only those that share one are compared.
        let mut by_print: FxHashMap<u128, Vec<usize>> = FxHashMap::default();
        for own in stated {
            let print = print(&own.structure);
            let of_print = by_print.entry(print).or_default();
            let Some(at) = of_print.iter().find(|at| self.is_one_drawing(groups[**at].members[0], own)) else {
                of_print.push(groups.len());
                groups.push(Group { print, members: vec![own] });
                continue;
            };
            let members = &mut groups[*at].members;
            match members.iter().find(|before| self.is_copy(before, own)) {
                Some(copy) => findings.push(copied(own, copy)),
                None => members.push(own),
            }
        }
        groups
    }

    /// Whether two stated contributors are one drawing: under their labels where both have them.
    fn is_one_drawing(&self, a: &Stated<'_>, b: &Stated<'_>) -> bool {
        if a.structure.has_labels() && b.structure.has_labels() {
            return self.same_by_labels(&a.structure, &b.structure);
        }
        same_drawing(&a.structure, &b.structure, self.limit()) == Some(true)
    }

    fn same_by_labels(&self, a: &Structure, b: &Structure) -> bool {
        let decision = decide(a, b, &LabelIndex::new(a), self.limit());
        decision.left_out().is_some_and(<[_]>::is_empty)
    }

    /// Whether one of two that are one drawing can only be a copy of the other: their labels say so, or they are written alike.
    fn is_copy(&self, a: &Stated<'_>, b: &Stated<'_>) -> bool {
        match (a.structure.has_labels(), b.structure.has_labels()) {
            (true, true) => self.same_by_labels(&a.structure, &b.structure),
            (false, false) => written(a) == written(b),
            _ => false,
        }
    }

    /// How many forms of the compound are the drawing that `members` share. A form that is legal and beyond those that are
    /// listed is counted among its own.
    fn twins(&self, all: &Contributors, listed: usize, group: &Group<'_, '_>) -> Twins {
        let first = group.members[0];
        let is_decided = listed > 0 || group.members.len() < 2 || !first.is_legal;
        if is_decided {
            return Twins { count: listed.max(1), may_be_more: first.is_legal && !all.is_complete };
        }
        let most = self.context.settings.limits.contributors;
        let own = contributors(&first.structure, &Bounds { octet: self.context.octet, most, more_gaps: 1 });
        let count = own.list.iter().filter(|form| print(&form.structure) == group.print).count();
        Twins { count: count.max(1), may_be_more: !own.is_complete }
    }
}

/// A contributor as the bank writes it; where the reader of a document has read it, as SMILES in the order of its atoms.
fn written(own: &Stated<'_>) -> String {
    match own.drawing {
        Drawing::Text(field) => field.text.trim().to_owned(),
        Drawing::Read(_) => smiles::write(&own.structure, Labels::Without),
    }
}

fn copied(own: &Stated<'_>, copy: &Stated<'_>) -> Finding {
    let message = format!("{} is the same drawing as {}", own.role.words(), copy.role.words());
    let stated = smiles::write(&own.structure, Labels::Classes);
    Finding { stated, ..Finding::new(repeated(own), message) }
}

/// `before` are as many as the compound has forms.
fn one_too_many(own: &Stated<'_>, before: &[&Stated<'_>]) -> Finding {
    let has = match before.len() {
        1 => String::new(),
        forms => format!(", and the compound has {forms} such forms"),
    };
    let message = format!("{} is the same drawing as {}{has}", own.role.words(), called(before));
    let stated = smiles::write(&own.structure, Labels::Classes);
    Finding { stated, ..Finding::new(repeated(own), message) }
}

/// What is to be said of unlabelled contributors that stand for forms which a symmetry exchanges; `None` where there is one form.
fn indistinct(members: &[&Stated<'_>], twins: &Twins) -> Option<String> {
    if twins.count < 2 || members.iter().all(|own| own.structure.has_labels()) {
        return None;
    }
    let forms = format!("{}{} forms", if twins.may_be_more { "at least " } else { "" }, twins.count);
    // Wrong options may be anything: one that stands alone has nothing to tell.
    if members.len() == 1 && matches!(members[0].role, Role::Option(_)) {
        return None;
    }
    let members_are = called(members);
    Some(if members.len() == 1 {
        format!(
            "{members_are} stands for {forms} of the compound that a symmetry exchanges and only labels tell apart: \
             the others are not missing"
        )
    } else if members.len() < twins.count {
        format!(
            "{members_are} are one drawing without labels and stand for {forms} of the compound that a symmetry \
             exchanges: the others are not missing"
        )
    } else {
        format!(
            "{members_are} are one drawing without labels; the compound has {forms} that a symmetry exchanges, and each \
             counts as one of them"
        )
    })
}

fn repeated(own: &Stated<'_>) -> Name {
    if matches!(own.role, Role::Option(_)) { Name::RepeatedOption } else { Name::RepeatedContributor }
}

/// `contributor 1`, `contributors 1, 2 and 3`, `options A and D`.
fn called(members: &[&Stated<'_>]) -> String {
    let kind = if members.iter().any(|own| matches!(own.role, Role::Option(_))) { "option" } else { "contributor" };
    let name = |own: &&Stated<'_>| match own.role {
        Role::Option(at) => option_letter(at),
        _ => (own.at + 1).to_string(),
    };
    let words: Vec<String> = members.iter().take(NAMED).map(name).collect();
    match members.len() {
        1 => format!("{kind} {}", words[0]),
        many if many > NAMED => format!("{kind}s {} and {} more", words.join(", "), many - NAMED),
        _ => format!("{kind}s {}", join_and(&words)),
    }
}
