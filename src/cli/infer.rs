//! `keyassay infer START ANSWER`.

use super::settings::StructureOptions;
use super::{Ending, output, structure};
use crate::arrows::chains::chains;
use crate::arrows::infer::{Inferred, NoArrows, drawn};
use crate::arrows::{Arrow, notation};
use crate::compare::{arrows_between, with_what_is_left_out};
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
    /// Species that the answer leaves out, as SMILES, for a leaving group or a spectator; `*` for whatever it leaves out.
    #[arg(long, value_name = "SPECIES", allow_hyphen_values = true)]
    omits: Option<String>,
    #[command(flatten)]
    options: StructureOptions,
}

/// Runs the command: one set of arrows a line, the conventional one first.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    let profile = arguments.options.profile()?;
    let start = structure::read(&arguments.start, "start", &profile);
    let named = arguments.omits.as_deref().map(named_species);
    let answer = match &named {
        Some(named) if !named.is_empty() && structure::read(named, "species left out", &profile).is_none() => None,
        Some(named) if !named.is_empty() => {
            structure::read(&format!("{}.{named}", arguments.answer), "answer", &profile)
        }
        _ => structure::read(&arguments.answer, "answer", &profile),
    };
    let (Some(mut start), Some(mut answer)) = (start, answer) else { return Ok(Ending::Found) };
    start.label_by_position();
    let labels = LabelIndex::new(&start);
    if arguments.omits.as_deref().is_some_and(leaves_out_any) {
        answer = with_what_is_left_out(&start, &answer, &labels, profile.limits.search_steps);
    }
    let found = arrows_between(&start, &answer, &labels, profile.limits.search_steps);
    match found.and_then(|found| Ok((lines(&found)?, found))) {
        Ok(((lines, turned), found)) => {
            output::print(&lines)?;
            if turned > 0 {
                output::say(&format!(
                    "arrows that close a ring may as well run round it the other way: {} not listed",
                    if turned == 1 { "one such set is".to_owned() } else { format!("{turned} such sets are") }
                ));
            }
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

/// The ways, one a line, and how many are left out because they are one of these with a ring of arrows turned round.
pub(crate) fn lines(found: &Inferred) -> Result<(String, usize), NoArrows> {
    let mut text = String::new();
    let (mut told, mut turned) = (Vec::new(), 0);
    for way in &found.ways {
        let open = outside_of_rings(way);
        if open.len() < way.len() && told.contains(&open) {
            turned += 1;
            continue;
        }
        told.push(open);
        let _ = writeln!(text, "{}", notation::write(&drawn(&found.start, way)?));
    }
    Ok((text, turned))
}

/// The arrows that close no ring, in an order of their own. Shortest ways have the same tails and heads, so that ways which agree in
/// these arrows differ in how the others run round their rings.
fn outside_of_rings(way: &[Arrow]) -> Vec<Arrow> {
    let open = chains(way).into_iter().filter(|chain| !chain.is_closed()).flat_map(|chain| chain.arrows);
    let mut arrows: Vec<Arrow> = open.filter_map(|at| way.get(at)).copied().collect();
    arrows.sort_unstable();
    arrows
}

/// The species that are named, as one drawing.
fn named_species(omits: &str) -> String {
    let species = omits.split([' ', '.', ',']).filter(|own| !own.is_empty() && *own != "*");
    species.collect::<Vec<_>>().join(".")
}

fn leaves_out_any(omits: &str) -> bool {
    omits.split([' ', '.', ',']).any(|own| own == "*")
}
