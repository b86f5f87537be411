//! A proposed sequence (the field `steps`): its steps in lines instead of JSON, and drawn as a chain.

use super::panels::{Panel, STEPS};
use crate::bank::{Arrows, Chunk, Drawing, Field, Item, Record, Step};
use crate::compare::compare;
use crate::drawing::layout::{Before, Coordinates, follow, lay_out_sequence};
use crate::drawing::{Scene, fragments};
use crate::findings::{Context, Finding, Settings, StepAudit, Target, judge, start_text};
use crate::structure::{AtomId, LabelIndex, OctetRule, Structure};
use std::fmt::Write as _;

/// Steps of a proposed sequence that are drawn.
const MOST: usize = 6;

/// A step as the field has it.
#[derive(serde::Deserialize)]
struct Row {
    start: Option<String>,
    arrows: String,
    answer: String,
}

fn rows(text: &str) -> Option<Vec<Row>> {
    serde_json::from_str::<Vec<Row>>(text).ok().filter(|rows| !rows.is_empty())
}

/// The field `steps` as people read it, a line for each thing; none where the text is no such field.
pub(super) fn in_lines(text: &str) -> Option<String> {
    if !text.starts_with("[{\"") {
        return None;
    }
    let mut out = String::new();
    for (at, row) in rows(text)?.iter().enumerate() {
        let start = row.start.as_ref().map(|start| format!("start   {start}\n        ")).unwrap_or_default();
        let _ = writeln!(out, "step {}  {start}arrows  {}\n        answer  {}", at + 1, row.arrows, row.answer);
    }
    out.truncate(out.trim_end().len());
    Some(out)
}

/// The proposed sequence of a step as a chain: each structure with the arrows that lead to the next, then the answer.
pub(super) fn panels(step: &StepAudit, findings: &[&Finding], octet: OctetRule) -> Vec<Panel> {
    let fixes = findings.iter().filter_map(|finding| finding.fix.as_ref());
    let Some(fix) = fixes.flat_map(|fix| fix.each()).find(|fix| fix.field == Target::Steps) else { return Vec::new() };
    let Some(rows) = rows(&fix.proposed).filter(|rows| rows.len() <= MOST) else { return Vec::new() };
    let steps = judged(step, &rows, octet);
    let starts: Option<Vec<&Structure>> = steps.iter().map(|own| own.start.as_ref()).collect();
    let last = steps.last().and_then(|own| own.pushed.as_ref()).map(|pushed| &pushed.product);
    let (Some(starts), Some(last)) = (starts, last) else { return Vec::new() };
    let places = places(&steps, &starts, last);
    let mut scenes = Vec::with_capacity(places.len());
    let mut captions = Vec::with_capacity(places.len());
    for (at, ((own, start), points)) in steps.iter().zip(&starts).zip(&places).enumerate() {
        let caption = format!("Proposed step {}", at + 1);
        scenes.push(Scene { title: caption.clone(), ..Scene::new(start, points, &own.arrows) });
        captions.push(caption);
    }
    if let Some(points) = places.last() {
        let caption = "Answer of the proposed sequence".to_owned();
        scenes.push(Scene { title: caption.clone(), ..Scene::new(last, points, &[]) });
        captions.push(caption);
    }
    let drawn = fragments(&scenes);
    captions.into_iter().zip(drawn).map(|(caption, svg)| Panel { caption, svg, note: "" }).collect()
}

/// The steps read and pushed as those of a bank are.
fn judged(step: &StepAudit, rows: &[Row], octet: OctetRule) -> Vec<StepAudit> {
    let field = |text: &str| Field { text: text.to_owned(), ..Field::default() };
    let mut start = start_text(step);
    let steps = rows.iter().zip(1..).map(|(row, number)| Step {
        number,
        start: row.start.clone().or(start.take()).map(|text| Drawing::Text(field(&text))),
        arrows: Some(Arrows::Text(field(&row.arrows))),
        answer: Some(Drawing::Text(field(&row.answer))),
        ..Step::default()
    });
    let item = Item { steps: steps.collect(), ..Item::default() };
    let (settings, chunk) = (Settings { octet, ..Settings::default() }, Chunk::default());
    judge(&Context::new(&settings, &chunk), &Record { line: 1, content: Ok(item) }, "").steps
}

/// Where atoms are: every structure as it follows from the one before.
fn places(steps: &[StepAudit], starts: &[&Structure], last: &Structure) -> Vec<Coordinates> {
    let first = steps.first().and_then(|own| own.pushed.as_ref()).map(|pushed| &pushed.product);
    let begin: Vec<&Structure> = starts.first().copied().into_iter().chain(first).collect();
    let mut own: Vec<Coordinates> = lay_out_sequence(&begin);
    own.truncate(1);
    for (at, step) in steps.iter().enumerate() {
        let (Some(pushed), Some(points)) = (&step.pushed, own.last()) else { break };
        let before = Before { structure: starts[at], points };
        let after = follow(before, &pushed.product, &|at| Some(AtomId::new(at)));
        own.push(match starts.get(at + 1) {
            None => after,
            Some(next) => {
                let same = compare(&pushed.product, next, &LabelIndex::new(&pushed.product), STEPS).mapping.to_computed;
                let before = Before { structure: &pushed.product, points: &after };
                follow(before, next, &|at| same.get(at).copied().flatten())
            }
        });
    }
    debug_assert!(own.last().is_none_or(|points| points.is_empty() || points.len() == last.atom_count()));
    own
}
