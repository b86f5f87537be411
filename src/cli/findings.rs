//! `keyassay findings [NAME]`.

use super::{Ending, output};
use crate::findings::slips::{Entry, Slip};
use crate::findings::{Grade, Name};
use anyhow::Context as _;
use std::fmt::Write as _;

/// Arguments of `keyassay findings`.
#[derive(Debug, clap::Args)]
pub(super) struct Arguments {
    /// The finding, the slip or the grade; without it, all of them.
    name: Option<String>,
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> anyhow::Result<Ending> {
    let mut text = String::new();
    let Some(wanted) = &arguments.name else {
        for name in Name::ALL {
            let entry = name.entry();
            let _ = writeln!(text, "{:<24} {:<8} {}", entry.name, entry.severity.name(), entry.meaning);
        }
        text.push_str("\nSlips, which explain a mismatch\n");
        for slip in Slip::ALL {
            let _ = writeln!(text, "{:<24} {}", slip.name(), slip.entry().meaning);
        }
        text.push_str("\nGrades of corrections\n");
        for grade in GRADES {
            let _ = writeln!(text, "{:<24} {}", grade.name(), grade.guide().0);
        }
        output::print(&text)?;
        return Ok(Ending::Fine);
    };
    let Some(name) = Name::from_text(wanted) else {
        let other = of_slip(wanted).or_else(|| of_grade(wanted));
        let other = other.with_context(|| {
            format!("there is no finding, slip or grade '{wanted}': `keyassay findings` lists them all")
        })?;
        output::print(&other)?;
        return Ok(Ending::Fine);
    };
    let entry = name.entry();
    let _ = write!(
        text,
        "{} ({})\n\n{}\n\nExample\n  {}\n\nWhat to do\n  {}\n",
        entry.name,
        entry.severity.name(),
        entry.meaning,
        entry.example,
        entry.remedy
    );
    output::print(&text)?;
    Ok(Ending::Fine)
}

/// The grades, the surest first.
const GRADES: [Grade; 3] = [Grade::Certain, Grade::Likely, Grade::None];

/// What a slip is.
fn of_slip(wanted: &str) -> Option<String> {
    let slip = Slip::ALL.iter().find(|slip| slip.name() == wanted)?;
    let Entry { name, meaning, example, remedy } = slip.entry();
    Some(format!("{name} (slip)\n\n{meaning}\n\nExample\n  {example}\n\nWhat to do\n  {remedy}\n"))
}

/// What a grade is.
fn of_grade(wanted: &str) -> Option<String> {
    let grade = GRADES.into_iter().find(|grade| grade.name() == wanted)?;
    let (meaning, effect) = grade.guide();
    Some(format!("{wanted} (grade of a correction)\n\n{meaning}\n\nWhat to do\n  {effect}\n"))
}
