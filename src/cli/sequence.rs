//! `keyassay sequence START ARROWS`.

use super::push::{complaint, judged};
use super::settings::StructureOptions;
use super::{Ending, output};
use crate::arrows::notation;
use crate::drawing::layout::lay_out_sequence;
use crate::drawing::{self, Panel, Scene};
use crate::findings::{Name, SequenceStep, Severity, sequence_of};
use crate::report::terminal::CAUTION;
use crate::smiles::{self, Labels};
use crate::structure::Structure;
use std::fmt::Write as _;
use std::path::PathBuf;

/// Arguments of `keyassay sequence`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// The start, as SMILES or CML.
    #[arg(allow_hyphen_values = true)]
    start: String,
    /// The arrows of all steps, one after the other: TAIL -> HEAD for a pair, TAIL ~> HEAD for one electron, separated by ';'.
    #[arg(allow_hyphen_values = true)]
    arrows: String,
    /// Draw the structures with the arrows of each step, as one row of SVG into this file.
    #[arg(long, value_name = "FILE")]
    draw: Option<PathBuf>,
    #[command(flatten)]
    options: StructureOptions,
}

/// Runs the command: two lines a step, its arrows and what they lead to.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    let mut judgement = judged(&arguments.start, &arguments.arrows, &arguments.options.profile()?.judge());
    // What the finding says is what is printed.
    judgement.findings.retain(|finding| finding.name != Name::StepsInOne);
    eprint!("{}", complaint(&judgement));
    let Some(step) = judgement.steps.first().filter(|step| step.pushed.is_some()) else { return Ok(Ending::Found) };
    let sequence = sequence_of(step);
    output::print(&text(&sequence))?;
    if let Some(file) = &arguments.draw {
        output::write(file, row(&sequence).as_bytes())?;
    }
    let faulty = judgement.findings.iter().any(|finding| finding.severity == Severity::Error);
    Ok(if faulty { Ending::Found } else { Ending::Fine })
}

fn text(sequence: &[SequenceStep]) -> String {
    let mut text = String::new();
    for (at, step) in sequence.iter().enumerate() {
        let _ = writeln!(
            text,
            "step {}\t{}\n\t{}",
            at + 1,
            notation::write(&step.written),
            smiles::write(&step.answer, Labels::Classes)
        );
    }
    let one = "The arrows are one step: every tail finds its electrons in the start.";
    let _ = writeln!(text, "\n{}{CAUTION}", if sequence.len() == 1 { format!("{one}\n\n") } else { String::new() });
    text
}

/// The structures side by side, each with the arrows that lead to the next.
fn row(sequence: &[SequenceStep]) -> String {
    let Some(last) = sequence.last() else { return String::new() };
    let drawn: Vec<&Structure> = sequence.iter().map(|step| &step.start).chain([&last.product]).collect();
    let points = lay_out_sequence(&drawn);
    let mut panels: Vec<Panel> = Vec::with_capacity(points.len());
    for (at, (step, points)) in sequence.iter().zip(&points).enumerate() {
        let scene = Scene { title: format!("Step {}", at + 1), ..Scene::new(&step.start, points, &step.arrows) };
        panels.push(Panel { scene, caption: format!("step {}", at + 1), sign: (at > 0).then_some('\u{2192}') });
    }
    if let Some(points) = points.last() {
        let scene = Scene { title: "Product".to_owned(), ..Scene::new(&last.product, points, &[]) };
        panels.push(Panel { scene, caption: "product".to_owned(), sign: Some('\u{2192}') });
    }
    drawing::row(&panels, "Steps with their arrows, and the product", true)
}
