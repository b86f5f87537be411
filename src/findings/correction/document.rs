//! Corrections of CML: the content of an element as it stands, and as it should be.

use super::text::product;
use crate::arrows::notation;
use crate::bank::{Chunk, Drawing, Item, Step};
use crate::cml::{contents, whole_element, write_links, write_molecule, write_products};
use crate::findings::verdict::StepAudit;

/// An element's content: as it stands, and as it should be.
pub(super) struct Rewritten {
    pub stated: String,
    pub proposed: String,
}

/// Whether an answer is CML in a field of a table, or would be.
pub(super) fn is_cml_in_a_field(item: &Item, step: &Step) -> bool {
    let is_cml =
        |drawing: &Drawing| matches!(drawing, Drawing::Text(field) if field.text.trim_start().starts_with('<'));
    match &step.answer {
        Some(answer) => is_cml(answer),
        None => step.start.as_ref().or(item.steps.first().and_then(|step| step.start.as_ref())).is_some_and(is_cml),
    }
}

/// The product as a molecule that stands in a field; `None` where CML cannot carry it.
pub(super) fn field_molecule(audit: &StepAudit) -> Option<String> {
    let (text, lost) = write_molecule(&product(audit)?);
    lost.is_empty().then(|| text.trim_end().to_owned())
}

/// The content of a reaction's list of products.
pub(super) fn products(chunk: &Chunk, step: &Step, audit: &StepAudit) -> Option<Rewritten> {
    let element = element(chunk, step)?;
    // Spectators belong to both sides and are listed once.
    if element.contains("<spectator") {
        return None;
    }
    let stated = only(element, "productList")?;
    // Arrows that follow from the identity of electrons would be lost with these.
    if stated.contains("<electron") {
        return None;
    }
    let (lines, lost) = write_products(&product(audit)?);
    lost.is_empty().then(|| rewritten(stated, &with_tags_of(stated, &lines)))
}

/// Start tags of molecules that say more than a name, and so something that may no longer hold.
const SAYS_MORE: [&str; 4] = ["formalCharge", "spinMultiplicity", "count", "ref"];

/// Gives new molecules the tags of the old ones, with their ids and titles, where they are as many.
fn with_tags_of(stated: &str, lines: &str) -> String {
    const TAG: &str = "<molecule";
    let tag = |from: usize| stated.get(from..).and_then(|rest| rest.split_inclusive('>').next());
    let tags: Vec<&str> = stated.match_indices(TAG).filter_map(|(at, _)| tag(at)).collect();
    let fits = tags.iter().all(|tag| !tag.ends_with("/>") && !SAYS_MORE.iter().any(|word| tag.contains(word)));
    if !fits || tags.len() != lines.matches(TAG).count() {
        return lines.to_owned();
    }
    let mut tags = tags.into_iter();
    let line = |line: &str| match line.find(TAG) {
        Some(at) if line.ends_with("<molecule>") => format!("{}{}\n", &line[..at], tags.next().unwrap_or(TAG)),
        Some(_) => {
            tags.next();
            format!("{line}\n")
        }
        None => format!("{line}\n"),
    };
    lines.lines().map(line).collect()
}

/// The content of a reaction's map of arrows.
pub(super) fn links(chunk: &Chunk, step: &Step, proposed: &str) -> Option<Rewritten> {
    let element = element(chunk, step)?;
    let maps: Vec<&str> = contents(element, "map").iter().map(|content| content.span.of(element)).collect();
    let roles = |text: &&&str| text.contains("role=");
    let [stated] = maps.iter().filter(roles).collect::<Vec<_>>()[..] else { return None };
    let reading = notation::read(proposed, usize::MAX);
    let (lines, lost) = write_links(&reading.arrows);
    (lost.is_empty() && reading.faults.is_empty()).then(|| rewritten(stated, &lines))
}

fn element<'a>(chunk: &'a Chunk, step: &Step) -> Option<&'a str> {
    step.element().and_then(|span| chunk.text.get(span.start as usize..)).map(whole_element)
}

fn only<'a>(element: &'a str, name: &str) -> Option<&'a str> {
    match contents(element, name)[..] {
        [content] => Some(content.span.of(element)),
        _ => None,
    }
}

/// New lines in the place of old ones: indented like them, with their line ends; on one line where they are.
fn rewritten(stated: &str, lines: &str) -> Rewritten {
    let line_end = if stated.contains("\r\n") { "\r\n" } else { "\n" };
    let proposed = match stated.rsplit_once('\n') {
        None => lines.lines().map(str::trim_start).collect(),
        Some((_, closing)) => {
            let opening = &stated[..stated.len() - stated.trim_start().len()];
            let indent = opening.rsplit('\n').next().unwrap_or_default();
            let step = indent.strip_prefix(closing).filter(|step| !step.is_empty()).unwrap_or("  ");
            let mut text = String::new();
            for line in lines.lines() {
                let own = line.trim_start_matches(' ');
                text.push_str(line_end);
                text.push_str(indent);
                text.push_str(&step.repeat(line.len() - own.len()));
                text.push_str(own);
            }
            text + line_end + closing
        }
    };
    Rewritten { stated: stated.to_owned(), proposed }
}
