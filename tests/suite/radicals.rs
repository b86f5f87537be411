//! Radicals: half-headed arrows, stated electrons, and unpaired electrons that nobody meant.

use super::judged::{Case, hold, judged};
use keyassay::bank::Format;
use keyassay::findings::Settings;
use keyassay::smiles::read;
use keyassay::structure::OctetRule;
use keyassay::structure::localise::localise;
use keyassay::structure::pairing::pairable;

/// Drawings, and how many pairs of their unpaired electrons a closed-shell drawing of the same atoms would not have. The
/// first is from published data (TieuLongPhan/SynEPD, 5c79668c); the others follow from the octet rule (IUPAC Gold Book LT07065).
const DRAWINGS: &[(&str, usize)] = &[
    ("C[N+]([O-])[O]", 1),
    ("CN([O])[O]", 1),
    ("[O-][N+]([O])c1ccc([N+]([O-])[O])cc1", 2),
    ("[CH2][CH2]", 1),
    ("[CH2]C=C[CH2]", 1),
    ("[CH2]C=CC=C[O]", 1),
    ("[O]C1=CC=C([O])C=C1", 1),
    ("C=[C][CH2]", 1),
    ("[O][O]", 1),
    // One alone cannot pair.
    ("C[CH]C", 0),
    ("[O][N+](C)(C)C", 0),
    ("C[N+](=O)[O-]", 0),
    // Two that nothing conjugates stay apart, and so do two species.
    ("[CH2]CC[CH2]", 0),
    ("[CH2]C([CH2])(C)C", 0),
    ("[Cl].[Cl]", 0),
    ("[CH2]c1cccc([CH2])c1", 0),
    // Carbenes and nitrenes have an even number on one atom.
    ("[CH2]", 0),
    ("C[N]", 0),
    // Carbon does not take the pair of an ether oxygen.
    ("[CH2]O[CH2]", 0),
    ("[Fe].[CH2][CH3]", 0),
];

#[test]
fn unpaired_electrons_that_pair_up_are_found() {
    let mut failures = Vec::new();
    for (smiles, expected) in DRAWINGS {
        let mut structure = read(smiles).structure;
        if localise(&mut structure).is_err() {
            failures.push(format!("{smiles} has no localised form"));
        }
        let pairs = pairable(&structure, OctetRule::Usual, &|_| true, 10_000).len();
        if pairs != *expected {
            failures.push(format!("{smiles}: {pairs} pairs, {expected} expected"));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
}

const HEADER: &str = "id,task,start,arrows,answer\n";

const ITEMS: &[Case] = &[
    (
        "q,,C[CH2:1][N+]([O-])[O].[OH-:2],2 -> 2-1h; 1-1h -> 1,C[CH-:1][N+]([O-])[O].[OH2:2]",
        "stray-unpaired-electrons",
        "N#3 and O#5 of the start",
    ),
    // The arrows that pair them up mean them.
    ("q,,C[N+:1]([O-])[O:2],1 ~> 1-2; 2 ~> 1-2,C[N+:1]([O-])=[O:2]", "", ""),
    // Only the answer is drawn so: the mismatch says it, and this why.
    (
        "q,,[OH-:1].[CH3:2][Br:3].[CH3:4][N+:5](=[O:6])[O-:7],1 -> 1-2; 2-3 -> 3,[OH:1][CH3:2].[Br-:3].[CH3:4][N+:5]([O:6])[O-:7]",
        "stray-unpaired-electrons mismatched-product bystander-changed",
        "N5 and O6 of the stated answer",
    ),
    // Radicals in resonance and in steps.
    ("q,resonance,[CH2:1]=[CH:2][CH2:3],3 ~> 2-3; 1-2 ~> 2-3; 1-2 ~> 1,[CH2:1][CH:2]=[CH2:3]", "", ""),
    ("q,resonance,[CH2:1]=[CH:2][CH2:3],3 ~> 2-3; 1-2 ~> 2-3,[CH2:1][CH:2]=[CH2:3]", "unpaired-half-arrow", ""),
    ("q,,[Cl:1][Cl:2],1-2 ~> 1; 1-2 ~> 2,[Cl:1].[Cl:2]", "", ""),
    ("q,,[CH2:1]=[CH2:2],1-2 ~> 1; 1-2 ~> 2,[CH2:1][CH2:2]", "", ""),
    // A nitroxide: one electron through the bond.
    ("q,resonance,C[N:1](C)[O:2],1 ~> 1-2; 1-2 ~> 2,C[N+:1](C)[O-:2]", "", ""),
    // A carbene adds: singlet by pairs, triplet one electron at a time.
    ("q,,[CH2:1].[CH2:2]=[CH2:3],1 -> 1-2; 2-3 -> 1-3,[CH2:1]1[CH2:2][CH2:3]1", "", ""),
    ("q,,[CH2:1].[CH2:2]=[CH2:3],1 ~> 1-2; 2-3 ~> 1-2; 2-3 ~> 3,[CH2:1][CH2:2][CH2:3]", "", ""),
];

#[test]
fn radicals_in_every_place() {
    hold(HEADER, Format::Csv, &Settings::default(), ITEMS);
}

/// CML states spin: two unpaired electrons of a triplet carbene are not the pair of a singlet one, and stated ones are meant.
#[test]
fn stated_electrons_are_meant() {
    let atom = |id: &str, element: &str, more: &str| {
        format!("<molecule><atomArray><atom id=\"{id}\" elementType=\"{element}\" {more}/></atomArray></molecule>")
    };
    let methylene = |spin: u8| atom("c1", "C", &format!("hydrogenCount=\"2\" spinMultiplicity=\"{spin}\""));
    // The carbene looks on while hydroxide takes up a proton.
    let item = |answer: u8| {
        let start = [
            methylene(3),
            atom("o2", "O", "formalCharge=\"-1\" hydrogenCount=\"1\""),
            atom("h3", "H", "formalCharge=\"1\""),
        ];
        let water = "<molecule><atomArray><atom id=\"o2\" elementType=\"O\" hydrogenCount=\"2\"/><atom id=\"h3\" elementType=\"H\"/></atomArray>\
                     <bondArray><bond atomRefs2=\"o2 h3\" order=\"S\"/></bondArray></molecule>";
        let list = |parts: &[String], of: &str| {
            let parts = parts.iter().map(|part| format!("<{of}>{part}</{of}>")).collect::<Vec<_>>().concat();
            format!("<{of}List>{parts}</{of}List>")
        };
        format!(
            "<cml xmlns=\"http://www.xml-cml.org/schema\"><reaction id=\"q\">{}{}<map convention=\"ka:electronFlow\" dictRef=\"ka:arrows\">\
             <link from=\"o2\" fromType=\"atom\" toSet=\"o2 h3\" toType=\"bond\" role=\"pair\"/></map></reaction></cml>",
            list(&start, "reactant"),
            list(&[methylene(answer), water.to_owned()], "product")
        )
    };
    let names = |answer: u8| {
        let items = judged(&item(answer), Format::Cml, &Settings::default());
        items.iter().map(super::judged::Judged::names).collect::<Vec<_>>().join("|")
    };
    assert_eq!(names(3), "");
    assert!(names(1).contains("mismatched-product"), "{}", names(1));
}
