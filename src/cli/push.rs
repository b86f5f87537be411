//! `keyassay push START ARROWS`.

use super::complain::of_finding;
use super::settings::StructureOptions;
use super::{Ending, output};
use crate::arrows::ledger::{arrow_sentences, charge_sentence, net_sentence, string_sentences};
use crate::bank::{Arrows, Chunk, Drawing, Field, Item, Record, Step};
use crate::findings::{Context, Judgement, Settings, Severity, cut_words, judge};
use crate::report::terminal::CAUTION;
use crate::smiles::{self, Labels};
use std::fmt::Write as _;

/// Arguments of `keyassay push`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// The start, as SMILES or CML.
    #[arg(allow_hyphen_values = true)]
    start: String,
    /// The arrows: TAIL -> HEAD for a pair, TAIL ~> HEAD for one electron, separated by ';'.
    #[arg(allow_hyphen_values = true)]
    arrows: String,
    #[command(flatten)]
    options: StructureOptions,
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    let judgement = judged(&arguments.start, &arguments.arrows, &arguments.options.profile()?.judge());
    let complaint = complaint(&judgement);
    let Some(text) = worked_through(&judgement) else {
        eprint!("{complaint}");
        return Ok(Ending::Found);
    };
    output::print(&text)?;
    eprint!("{complaint}");
    let faulty = judgement.findings.iter().any(|finding| finding.severity == Severity::Error);
    Ok(if faulty { Ending::Found } else { Ending::Fine })
}

/// Judges one start and its arrows, without a stated answer.
pub(crate) fn judged(start: &str, arrows: &str, settings: &Settings) -> Judgement {
    // Start and arrows stand on two lines of one text, so that faults point at their character.
    let text = format!("{start}\n{arrows}");
    let field = |text: &str, start: usize| Field { text: text.to_owned(), start: start as u32, ..Field::default() };
    let step = Step {
        start: Some(Drawing::Text(field(start, 0))),
        arrows: Some(Arrows::Text(field(arrows, start.len() + 1))),
        ..Step::default()
    };
    let chunk = Chunk { text, first_line: 1, ..Chunk::default() };
    let context = Context { product_only: true, ..Context::new(settings, &chunk) };
    let record = Record { line: 1, content: Ok(Item { steps: vec![step], ..Item::default() }) };
    judge(&context, &record, "push")
}

fn worked_through(judgement: &Judgement) -> Option<String> {
    let step = judgement.steps.first()?;
    let (start, pushed) = (step.start.as_ref()?, step.pushed.as_ref()?);
    let product = &pushed.product;
    let mut text = format!("{}\n\n", smiles::write(product, Labels::Classes));
    if !step.several.is_empty() {
        let _ = writeln!(
            text,
            "The arrows are several steps drawn as one, {}: 'keyassay sequence' works them through.\n\n{CAUTION}",
            cut_words(&step.several)
        );
        return Some(text);
    }
    for sentence in arrow_sentences(start, pushed, &step.arrows) {
        let _ = writeln!(text, "{sentence}");
    }
    text.push('\n');
    for sentence in string_sentences(start, product, &step.arrows) {
        let _ = writeln!(text, "{sentence}");
    }
    let _ = writeln!(text, "{}", charge_sentence(start, product, &step.arrows));
    let _ = writeln!(text, "{}\n\n{CAUTION}", net_sentence(start, product));
    Some(text)
}

/// What is wrong, with the line and a mark under the character.
pub(super) fn complaint(judgement: &Judgement) -> String {
    judgement.findings.iter().map(|finding| of_finding(finding, None)).collect()
}
