//! Species left out on purpose.

use crate::bank::{Drawing, Field};
use crate::findings::Finding;
use crate::findings::role::Role;
use crate::findings::rules::drawing::DrawingReader;
use crate::structure::canon::{Colours, Orders};
use crate::structure::skeleton::Skeleton;
use crate::structure::{AtomId, Structure};
use rustc_hash::FxHashSet;

/// The species that an item leaves out on purpose.
#[derive(Debug, Clone, Default)]
pub struct Omits {
    /// Whether `*` is among them: any spectator or leaving group.
    any: bool,
    /// The species named, as they were written: side by side or one by one.
    named: Vec<Skeleton>,
}

impl Omits {
    /// Reads the field: SMILES, or `*`; species are separated by dots or space.
    pub(crate) fn read(reader: &DrawingReader<'_>, field: &Field, findings: &mut Vec<Finding>) -> Self {
        let mut omits = Self::default();
        for part in field.parts() {
            let is_any = |species: &str| species == "*";
            omits.any |= part.text.split('.').any(is_any);
            let named: Vec<&str> = part.text.split('.').filter(|species| !is_any(species)).collect();
            if named.is_empty() {
                continue;
            }
            let text = named.join(".");
            let drawn = reader.read(&Drawing::Text(Field { text, ..part }), Role::Omits, findings);
            if drawn.usable {
                omits.named.push(Skeleton::new(&drawn.structure));
            }
        }
        omits
    }
}

/// Of the species left out, those that the item does not name in `omits`.
pub(crate) fn unexcused(omits: Option<&Omits>, structure: &Structure, omitted: &[Vec<AtomId>]) -> Vec<Vec<AtomId>> {
    let Some(omits) = omits else { return omitted.to_vec() };
    if omits.any {
        return Vec::new();
    }
    let skeleton = Skeleton::new(structure);
    let mut excused: FxHashSet<u32> = FxHashSet::default();
    for named in &omits.named {
        let orders = Orders::for_both(&skeleton, named);
        let (left, named_colours) = (Colours::new(&skeleton, orders), Colours::new(named, orders));
        let prints: FxHashSet<u128> = (0..named.species_count()).map(|own| named_colours.species(own)).collect();
        excused.extend((0..skeleton.species_count()).filter(|own| prints.contains(&left.species(*own))));
    }
    let is_excused = |atoms: &&Vec<AtomId>| {
        atoms.first().is_some_and(|atom| excused.contains(&skeleton.species_of(skeleton.host(*atom))))
    };
    omitted.iter().filter(|atoms| !is_excused(atoms)).cloned().collect()
}
