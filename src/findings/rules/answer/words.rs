//! Differences, species and drawings as findings show them.

use crate::compare::difference::STATED;
use crate::compare::{Compared, Difference, Differences, Mapping};
use crate::smiles::{self, Labels};
use crate::structure::{AtomId, Structure};

/// Differences that a message names; the rest are counted.
pub(super) const NAMED: usize = 6;

/// Species as SMILES, the first few of them.
pub(crate) fn species_words(structure: &Structure, species: &[Vec<AtomId>]) -> String {
    let mut words: Vec<String> = species
        .iter()
        .take(NAMED)
        .map(|atoms| smiles::write_part(structure, Labels::Without, |atom| atoms.contains(&atom)))
        .collect();
    if species.len() > NAMED {
        words.push(format!("{} more species", species.len() - NAMED));
    }
    words.join(" and ")
}

/// The differences in words, the first few of them.
pub(crate) fn difference_words(product: &Structure, stated: &Structure, compared: &Compared) -> String {
    let mut words = String::new();
    add_difference_words(&mut words, product, stated, compared);
    words
}

/// Adds the differences in words, the first few of them, to a text.
pub(super) fn add_difference_words(text: &mut String, product: &Structure, stated: &Structure, compared: &Compared) {
    let Differences { list, stereo, .. } = &compared.differences;
    let from = text.len();
    add_listed_words(text, product, stated, list);
    let mut add = |more: &str| {
        let separator = if text.len() > from { "; " } else { "" };
        text.extend([separator, more]);
    };
    for own in stereo.iter().take(NAMED.saturating_sub(list.len())) {
        add(&own.words(product));
    }
    let left = (list.len() + stereo.len()).saturating_sub(NAMED);
    if left > 0 {
        add(&format!("and {left} more differences"));
    }
    if !compared.smallest {
        add("(the search met its limit: a smaller difference may exist)");
    }
}

/// Adds differences of atoms and bonds in words, the first few of them, to a text.
pub(super) fn add_listed_words<'d>(
    text: &mut String,
    product: &Structure,
    stated: &Structure,
    list: impl IntoIterator<Item = &'d Difference>,
) {
    for (at, difference) in list.into_iter().take(NAMED).enumerate() {
        if at > 0 {
            text.push_str("; ");
        }
        difference.add_words(text, product, stated, &STATED);
    }
}

/// The stated structure as SMILES, with the labels of the product where it has none of its own.
pub(crate) fn labelled_like(product: &Structure, stated: &Structure, mapping: &Mapping) -> String {
    if stated.has_labels() {
        return smiles::write(stated, Labels::Classes);
    }
    smiles::write_labelled(stated, |atom| mapping.computed(atom).and_then(|computed| product.atom(computed).class))
}
