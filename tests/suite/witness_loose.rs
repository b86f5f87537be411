//! Strings beyond the specification against RDKit (PyPI `rdkit`, BSD-3-Clause; `corpus/witness/loose.tsv`).

use super::witness::{Disagreements, Row, rows, text};
use keyassay::bank::{Arrows, Chunk, Drawing, Field, Item, Record, Step};
use keyassay::findings::{Class, Context, Name, Settings, judge};
use keyassay::smiles::read;
use keyassay::structure::canon::{Colours, Orders, canonical};
use keyassay::structure::localise::localise;
use keyassay::structure::skeleton::Skeleton;

/// The canonical forms of all species of a string, in any order; what is wrong with it.
fn forms(smiles: &str) -> Result<Vec<Vec<u64>>, String> {
    let mut reading = read(smiles);
    if let Some(error) = reading.faults.first() {
        return Err(error.fault.to_string());
    }
    localise(&mut reading.structure).map_err(|none| format!("{none:?}"))?;
    // That two electrons are unpaired is what only the tail says.
    for id in reading.structure.atom_ids().collect::<Vec<_>>() {
        reading.structure.atom_mut(id).unpaired = None;
    }
    let skeleton = Skeleton::new(&reading.structure);
    let colours = Colours::new(&skeleton, Orders::Free);
    let form = |species| canonical(&skeleton, &colours, species, Orders::Free, 1_000_000).form;
    let mut forms: Vec<_> = (0..skeleton.species_count()).map(form).collect();
    forms.sort_unstable();
    Ok(forms)
}

fn same_structure(row: &Row) -> Option<String> {
    let (smiles, standard) = (row.get("smiles"), row.get("standard"));
    let found = forms(smiles);
    let agrees = match &found {
        Err(_) => standard.is_empty(),
        Ok(found) => Ok(found) == forms(standard).as_ref(),
    };
    (!agrees).then(|| format!("{smiles}: {found:?}, RDKit {standard}"))
}

/// The string beside a step that touches nothing of it, its standard spelling beside the answer: marks and all must agree.
fn same_question(row: &Row) -> Option<String> {
    let (start, answer) = (format!("[OH-].CBr.{}", row.get("smiles")), format!("CO.[Br-].{}", row.get("standard")));
    let field = |text: &str| Field { text: text.to_owned(), ..Field::default() };
    let step = Step {
        start: Some(Drawing::Text(field(&start))),
        arrows: Some(Arrows::Text(field("1 -> 1-2; 2-3 -> 3"))),
        answer: Some(Drawing::Text(field(&answer))),
        ..Step::default()
    };
    let mut chunk = Chunk::default();
    chunk.text.clone_from(&start);
    let settings = Settings::default();
    let record = Record { line: 1, content: Ok(Item { steps: vec![step], ..Item::default() }) };
    let judgement = judge(&Context::new(&settings, &chunk), &record, "loose");
    let others: Vec<_> = judgement
        .findings
        .iter()
        .filter(|finding| {
            ![Name::LooseNotation, Name::OmittedSpecies, Name::StrayUnpairedElectrons].contains(&finding.name)
        })
        .map(|finding| finding.message())
        .collect();
    let agrees = judgement.class == Class::Sound && others.is_empty();
    (!agrees).then(|| format!("{start}: {:?} {others:?}", judgement.class))
}

#[test]
fn loose_notation_means_what_rdkit_reads() {
    let file = text("loose.tsv");
    let mut found = Disagreements::default();
    for row in rows(&file) {
        found.case(same_structure(&row));
        let is_bare = !row.get("standard").is_empty() && !row.get("smiles").contains(['|', ':']);
        if is_bare {
            found.case(same_question(&row));
        }
    }
    found.settle(69);
}
