//! `keyassay contributors STRUCTURE`.

use super::settings::StructureOptions;
use super::{Ending, output, structure};
use crate::arrows::infer::{drawn, infer};
use crate::arrows::{Arrow, notation};
use crate::drawing::layout::{View, lay_out};
use crate::drawing::{self, Panel, Scene};
use crate::report::terminal::CAUTION;
use crate::resonance::{Bounds, Contributors, RULES, contributors};
use crate::smiles::{self, Labels};
use crate::structure::Structure;
use std::fmt::Write as _;
use std::path::PathBuf;

/// Arguments of `keyassay contributors`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// The structure, as SMILES, in any one of its forms.
    #[arg(allow_hyphen_values = true)]
    structure: String,
    /// Also those in which one octet more than in the structure is open, as in C(+)-O(-) for C=O.
    #[arg(long)]
    all: bool,
    /// Draw them, and the arrows from one to the next, as one row of SVG into this file.
    #[arg(long, value_name = "FILE")]
    draw: Option<PathBuf>,
    #[command(flatten)]
    options: StructureOptions,
}

/// Steps that the search for the arrows between two contributors may take at least.
pub(crate) const LEAST_STEPS: u64 = 1_000;
/// Contributors that are drawn at most: a row of more is no picture.
const DRAWN: usize = 64;

/// Runs the command: one contributor a line, rank, SMILES, and the arrows that lead from the one before it.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    let profile = arguments.options.profile()?;
    let Some(mut start) = structure::read(&arguments.structure, "structure", &profile) else {
        return Ok(Ending::Found);
    };
    start.label_by_position();
    let limits = &profile.limits;
    let bounds = Bounds { octet: profile.octet, most: limits.contributors, more_gaps: u32::from(arguments.all) };
    let found = contributors(&start, &bounds);
    let steps = limits.search_steps / (found.list.len() as u64).max(1);
    let between = arrows_between(&found, steps.max(LEAST_STEPS));
    output::print(&text(&found, &between))?;
    if !found.is_complete {
        output::say("the search met its limit: there may be more contributors");
    }
    if let Some(file) = &arguments.draw {
        let svg = row(&found, &between);
        output::write(file, svg.as_bytes())?;
        if found.list.len() > DRAWN {
            output::say(&format!("{} of {} contributors are drawn", DRAWN, found.list.len()));
        }
    }
    Ok(Ending::Fine)
}

/// The arrows that lead from each contributor to the next one of the list, where there is one set of arrows for it.
pub(crate) fn arrows_between(found: &Contributors, steps: u64) -> Vec<Vec<Arrow>> {
    let own: Vec<_> = found.list.first().map(|own| own.structure.atom_ids().map(Some).collect()).unwrap_or_default();
    let mut between = Vec::with_capacity(found.list.len());
    for pair in found.list.windows(2) {
        let ways = infer(&pair[0].structure, &pair[1].structure, &own, steps).map(|inferred| inferred.ways);
        between.push(ways.ok().and_then(|ways| ways.into_iter().next()).unwrap_or_default());
    }
    between
}

fn text(found: &Contributors, between: &[Vec<Arrow>]) -> String {
    let mut text = String::new();
    for (at, own) in found.list.iter().enumerate() {
        let _ = write!(text, "{}\t{}", own.place, smiles::write(&own.structure, Labels::Classes));
        let before = at.checked_sub(1).and_then(|before| Some((before, between.get(before)?)));
        if let Some((before, arrows)) = before.filter(|(_, arrows)| !arrows.is_empty()) {
            let _ = write!(text, "\t{}", written(&found.list[before].structure, arrows).unwrap_or_default());
        } else if let Some((from, arrows)) = own.from.as_ref().filter(|_| at > 0) {
            // No one set of arrows leads here from the line before.
            let arrows = written(&found.list[*from].structure, arrows).unwrap_or_default();
            let _ = write!(text, "\tfrom line {}: {arrows}", from + 1);
        }
        if own.is_outside {
            text.push_str("\tas it was given; by the rules it is not among them");
        }
        text.push('\n');
    }
    text.push_str(&grounds(found));
    let first = found.first_rank().count();
    let _ = write!(
        text,
        "\n{} contributor{}, {first} of the first rank. The rules of the ranks, which advise and decide nothing:\n",
        found.list.len(),
        if found.list.len() == 1 { "" } else { "s" }
    );
    for (at, rule) in RULES.iter().enumerate() {
        let _ = writeln!(text, "{}. {}", at + 1, rule.text);
    }
    let _ = writeln!(text, "\n{CAUTION}");
    text
}

/// What puts each rank behind the one before it.
fn grounds(found: &Contributors) -> String {
    let mut text = String::new();
    for pair in found.list.windows(2).filter(|pair| pair[0].place != pair[1].place && !pair[1].is_outside) {
        let Some(rule) = pair[1].rank.deciding_rule(&pair[0].rank) else { continue };
        let lead = if text.is_empty() { "\n" } else { "" };
        let _ = writeln!(
            text,
            "{lead}Rank {} stands behind rank {} by rule {rule}: {}.",
            pair[1].place,
            pair[0].place,
            RULES[rule - 1].text.trim_start_matches("then ")
        );
    }
    text
}

pub(crate) fn written(start: &Structure, arrows: &[Arrow]) -> Option<String> {
    Some(notation::write(&drawn(start, arrows).ok()?))
}

/// The contributors side by side, each with the arrows that lead to the next.
pub(crate) fn row(found: &Contributors, between: &[Vec<Arrow>]) -> String {
    let drawn = found.list.len().min(DRAWN);
    let list = &found.list[..drawn];
    let views: Vec<View> = list.iter().map(|own| View::same(&own.structure)).collect();
    let points = lay_out(&views);
    let none = Vec::new();
    let panels: Vec<Panel> = list
        .iter()
        .zip(&points)
        .enumerate()
        .map(|(at, (own, points))| {
            let arrows = if at + 1 < drawn { between.get(at).unwrap_or(&none) } else { &none };
            let title = format!("Contributor {} of {}, rank {}", at + 1, found.list.len(), own.place);
            let scene = Scene { title, ..Scene::new(&own.structure, points, arrows) };
            Panel { scene, caption: format!("rank {}", own.place), sign: (at > 0).then_some('\u{2194}') }
        })
        .collect();
    drawing::row(&panels, "Resonance contributors", true)
}
