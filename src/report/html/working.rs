//! The working of an answer in sentences, as the trade teaches it, and why each option is right or wrong.

use super::text::{MESSAGE, shown};
use crate::arrows::ledger::{arrow_sentences, charge_sentence, net_sentence, string_sentences};
use crate::arrows::push::push;
use crate::bank::key::letter;
use crate::compare::compare;
use crate::findings::{OptionAudit, StepAudit};
use crate::smiles::{self, Labels};
use crate::structure::{AtomId, LabelIndex, Structure};
use std::borrow::Cow;

/// Differences that are named of a wrong option.
const NAMED: usize = 4;
/// Steps of the search for a correspondence that only explains.
const SEARCH: u64 = 20_000;

/// The working of a step, sentence by sentence; `drawn` is the product as the bank states it, where that is another contributor.
pub(super) fn working(step: &StepAudit, drawn: Option<&Structure>) -> Vec<String> {
    let (Some(start), Some(pushed)) = (&step.start, &step.pushed) else { return Vec::new() };
    if !step.contributors.is_empty() {
        return Vec::new();
    }
    let product = &pushed.product;
    let mut all = vec![
        "Copy the start, atom by atom, with its charges; then follow each arrow from its tail to its head.".to_owned(),
    ];
    all.extend(arrow_sentences(start, pushed, &step.arrows));
    let strings = string_sentences(start, product, &step.arrows);
    // One string says by itself which charges change.
    let is_said = strings.len() == 1;
    all.extend(strings);
    if !is_said {
        all.push(charge_sentence(start, product, &step.arrows));
    }
    all.push(net_sentence(start, product));
    all.push("Every atom and bond that no arrow touches stays as it was drawn.".to_owned());
    all.extend(drawn.map(|drawn| {
        let drawn = smiles::write(drawn, Labels::Classes);
        format!("Any contributor of the product is taken as the answer; the bank states {drawn}.")
    }));
    all.iter().map(|sentence| shown(sentence, MESSAGE)).collect()
}

/// A step with the product to which its arrows lead. Where any contributor is taken as the answer, the judgement has drawn the product as
/// the stated one, which is given beside.
pub(super) fn as_pushed(step: &StepAudit) -> (Cow<'_, StepAudit>, Option<&Structure>) {
    let (Some(start), Some(own)) = (&step.start, &step.pushed) else { return (Cow::Borrowed(step), None) };
    let Ok(pushed) = push(start, &step.arrows) else { return (Cow::Borrowed(step), None) };
    let drawing = |structure: &Structure| smiles::write(structure, Labels::Classes);
    if drawing(&pushed.product) == drawing(&own.product) {
        return (Cow::Borrowed(step), None);
    }
    let pushed = Some(pushed);
    (Cow::Owned(StepAudit { pushed, ..step.clone() }), Some(&own.product))
}

/// Why each option is right or wrong.
pub(super) fn options(step: &StepAudit) -> Vec<String> {
    let Some(product) = step.pushed.as_ref().map(|pushed| &pushed.product) else { return Vec::new() };
    let one = |own: &OptionAudit| {
        let option = &own.structure;
        // The reader may not have the question at hand: each option is told by its drawing too.
        let at = format!("{} ({})", letter(own.at), smiles::write(option, Labels::Without));
        match own.is_right {
            Some(true) => return format!("Option {at} is right: it is the product{}.", left_out(product, option)),
            None => return format!("Option {at}: whether it is the product was not decided."),
            Some(false) => {}
        }
        let compared = compare(product, option, &LabelIndex::new(product), SEARCH);
        let (one, other) = compared.drawings(product, option);
        let differences = &compared.differences.list;
        let names = crate::compare::difference::Names {
            one: "in the product",
            other: "in the option",
            one_drawing: "product",
            other_drawing: "option",
            second_first: false,
        };
        let words: Vec<String> =
            differences.iter().take(NAMED).map(|own| own.words_between(one, other, &names)).collect();
        if words.is_empty() {
            return format!("Option {at} is wrong: it differs in its species or its stereo marks.");
        }
        let more = if differences.len() > NAMED { "; and more" } else { "" };
        format!("Option {at} is wrong. {}{more}.", words.join("; "))
    };
    step.options.iter().map(one).collect()
}

/// Which species of the product an option leaves out, for a sentence.
fn left_out(product: &Structure, option: &Structure) -> String {
    let compared = compare(product, option, &LabelIndex::new(product), SEARCH);
    let omitted = compared.differences.omitted.iter();
    let species = |atoms: &Vec<AtomId>| smiles::write(&product.part(|atom| atoms.contains(&atom)), Labels::Without);
    let names: Vec<String> = omitted.map(species).collect();
    if names.is_empty() { String::new() } else { format!(", with {} not drawn", names.join(" and ")) }
}
