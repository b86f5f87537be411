//! `keyassay infer START ANSWER`.

use super::settings::StructureOptions;
use super::{Ending, output, structure};
use crate::arrows::infer::{Inferred, NoArrows, drawn};
use crate::arrows::notation;
use crate::compare::arrows_between;
use crate::structure::LabelIndex;
use std::fmt::Write as _;

/// Arguments of `keyassay infer`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// The start, as SMILES or CML.
    #[arg(allow_hyphen_values = true)]
    start: String,
    /// The structure that the arrows are to lead to, as SMILES; with the labels of the start where atoms could be confused.
    #[arg(allow_hyphen_values = true)]
    answer: String,
    #[command(flatten)]
    options: StructureOptions,
}

/// Runs the command: one set of arrows a line, the conventional one first.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    let profile = arguments.options.profile()?;
    let start = structure::read(&arguments.start, "start", &profile);
    let answer = structure::read(&arguments.answer, "answer", &profile);
    let (Some(mut start), Some(answer)) = (start, answer) else { return Ok(Ending::Found) };
    start.label_by_position();
    let labels = LabelIndex::new(&start);
    let found = arrows_between(&start, &answer, &labels, profile.limits.search_steps);
    match found.and_then(|found| lines(&found).map(|lines| (found, lines))) {
        Ok((found, lines)) => {
            output::print(&lines)?;
            if found.is_cut_short {
                output::say("the search met its limit: there may be more sets of as many arrows");
            }
            Ok(Ending::Fine)
        }
        Err(why) => {
            output::say(&format!("no arrows lead there: {why}"));
            Ok(Ending::Found)
        }
    }
}

pub(crate) fn lines(found: &Inferred) -> Result<String, NoArrows> {
    let mut text = String::new();
    for way in &found.ways {
        let _ = writeln!(text, "{}", notation::write(&drawn(&found.start, way)?));
    }
    Ok(text)
}
