//! Molecules as CML writes them: forms that say the same, and documents that say what they must not.

#![allow(clippy::format_push_string, clippy::format_collect)] // Documents of tests are put together where they are read.

use super::cml::{atoms, faults, marks, molecules, picture};
use super::molecules::smiles;
use keyassay::cml::{FaultKind, read_molecule};
use keyassay::limits::Limits;
use keyassay::structure::Structure;

/// Methoxide ion, once in each form that the standard has had.
#[test]
fn forms_of_one_molecule_read_the_same() {
    let atoms = "<atomArray><atom id='c1' elementType='C' hydrogenCount='3'/>\
                 <atom id='o1' elementType='O' formalCharge='-1' hydrogenCount='0'/></atomArray>";
    let bonds = "<bondArray><bond id='b1' atomRefs2='c1 o1' order='S'/></bondArray>";
    let schema = "http://www.xml-cml.org/schema";
    let forms = [
        format!("<molecule>{atoms}{bonds}</molecule>"),
        format!("<molecule xmlns='{schema}'>{atoms}{bonds}</molecule>"),
        format!("<molecule xmlns='{schema}/cml2/core'>{atoms}{bonds}</molecule>"),
        format!("<molecule xmlns='{schema}/cml2/core/'>{atoms}{bonds}</molecule>"),
        format!("<molecule xmlns='{schema}/cml2/react'>{atoms}{bonds}</molecule>"),
        format!("<x:molecule xmlns:x='{schema}'>{}</x:molecule>", format!("{atoms}{bonds}").replace('<', "<x:").replace("<x:/", "</x:")),
        format!("<list xmlns='urn:elsewhere'><c:molecule xmlns:c='{schema}'>{}</c:molecule></list>", format!("{atoms}{bonds}").replace('<', "<c:").replace("<c:/", "</c:")),
        format!("<molecule f:x='1' xmlns:f='urn:f'><f:atomArray><f:atom/></f:atomArray>{atoms}<f:n>text</f:n>{bonds}<note>x</note></molecule>"),
        "<molecule><atomArray atomID='c1 o1' elementType='C O' formalCharge='0 -1' hydrogenCount='3 0'/>\
         <bondArray atomRef1='c1' atomRef2='o1' order='1'/></molecule>".to_owned(),
        "<molecule><atomArray atomID=' c1\n o1 ' elementType='C O' formalCharge='0 -1' hydrogenCount='3 0' x3='1 2'/>\
         <bondArray bondID='b1' atomRefs1='c1' atomRefs2='o1' order='S'/></molecule>".to_owned(),
        "<molecule><atomArray><atom id='c1'><string builtin='elementType'>C</string><integer builtin='hydrogenCount'>3</integer></atom>\
         <atom id='o1'><string builtin='elementType'> O </string><integer builtin='formalCharge'>-1</integer><integer builtin='hydrogenCount'>0</integer></atom></atomArray>\
         <bondArray><bond id='b1'><string builtin='atomRef'>c1</string><string builtin='atomRef'>o1</string><string builtin='order'>1</string></bond></bondArray></molecule>".to_owned(),
        "<molecule><atomArray><stringArray builtin='atomId'>c1 o1</stringArray><stringArray builtin='elementType'>C O</stringArray>\
         <integerArray builtin='formalCharge'>0 -1</integerArray><integerArray builtin='hydrogenCount'>3 0</integerArray></atomArray>\
         <bondArray><stringArray builtin='atomRef'>c1</stringArray><stringArray builtin='atomRef'>o1</stringArray><stringArray builtin='order'>1</stringArray></bondArray></molecule>".to_owned(),
        // Undrawn hydrogens by the valence rule; an order with a space before it; a charge with a sign.
        "<molecule><atomArray><atom id='c1' elementType='C'/><atom id='o1' elementType='O' formalCharge='-1'/></atomArray>\
         <bondArray><bond atomRefs2='c1 o1' order=' 1'/></bondArray></molecule>".to_owned(),
        "<molecule><atomArray><atom id='c1' elementType='C' formalCharge='+0'/><atom id='&#111;1' elementType='&#79;' formalCharge='-1'/></atomArray>\
         <bondArray><bond atomRefs2='c1 &#x6f;1' order='S'/></bondArray></molecule>".to_owned(),
    ];
    let wanted = "c1:Ch3 o1:O-1 | c1-o1";
    let mut wrong = Vec::new();
    for form in &forms {
        let read = molecules(form);
        let pictures: Vec<String> = read.iter().map(|molecule| picture(&molecule.structure)).collect();
        if pictures != [wanted] || !read[0].faults.is_empty() {
            wrong.push(format!("{form}\n  {pictures:?} {:?}", read.iter().map(|own| &own.faults).collect::<Vec<_>>()));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A molecule of the given atoms and bonds.
fn molecule(atoms: &str, bonds: &str) -> String {
    format!("<molecule id='m'><atomArray>{atoms}</atomArray><bondArray>{bonds}</bondArray></molecule>")
}

#[test]
fn atoms_carry_what_they_state() {
    let cases = [
        // Hydrogens are a total: those drawn are not counted again.
        (molecule("<atom id='o' elementType='O' hydrogenCount='2'/><atom id='h' elementType='H'/>", "<bond atomRefs2='o h' order='1'/>"), "o:Oh1 h:H | o-h"),
        (molecule("<atom id='h1' elementType='H' hydrogenCount='0'/><atom id='h2' elementType='H'/>", "<bond atomRefs2='h1 h2' order='1'/>"), "h1:H h2:H | h1-h2"),
        // Isotopes: schema 3, schema 2.4, and a nuclear mass.
        (molecule("<atom id='a' elementType='C' isotopeNumber='13' hydrogenCount='0'/><atom id='b' elementType='H' isotope='2'/><atom id='c' elementType='C' isotope='13.00335' hydrogenCount='4'/>", ""), "a:C/13 b:H/2 c:Ch4/13 | "),
        // Charged atoms without a hydrogen count take the valence of the neutral atom with as many electrons.
        (molecule("<atom id='n' elementType='N' formalCharge='1'/><atom id='o' elementType='O' formalCharge='-1'/><atom id='c' elementType='C' formalCharge='1'/><atom id='na' elementType='Na' formalCharge='1'/>", ""), "n:N+1h4 o:O-1h1 c:C+1h3 na:Na+1 | "),
        // Unpaired electrons: spin of the atom, drawn singly, of the molecule in the place of hydrogens or on the open pair.
        (molecule("<atom id='c' elementType='C' spinMultiplicity='2'/>", ""), "c:Ch3^1 | "),
        (molecule("<atom id='c' elementType='Cl'><electron count='1'/></atom>", ""), "c:Cl^1 | "),
        (molecule("<atom id='c' elementType='C' hydrogenCount='3'><electron count='1'/></atom>", ""), "c:Ch3^1 | "),
        ("<molecule spinMultiplicity='3'><atomArray><atom id='c' elementType='C' hydrogenCount='2'/></atomArray></molecule>".to_owned(), "c:Ch2^2 | "),
        ("<molecule spinMultiplicity='1'><atomArray><atom id='c' elementType='C' hydrogenCount='4'/></atomArray></molecule>".to_owned(), "c:Ch4 | "),
        ("<molecule spinMultiplicity='2'><atomArray><atom id='n' elementType='N' hydrogenCount='0'/><atom id='o' elementType='O'/></atomArray><bondArray><bond atomRefs2='n o' order='2'/></bondArray></molecule>".to_owned(), "n:N o:O | n=o"),
        // Aromatic bonds make aromatic atoms; undrawn hydrogens as in SMILES.
        (molecule("<atom id='a' elementType='C'/><atom id='b' elementType='N'/><atom id='c' elementType='C'/>", "<bond atomRefs2='a b' order='A'/><bond atomRefs2='b c' order='A'/><bond atomRefs2='c a' order='A'/>"), "a:ch1 b:n c:ch1 | a:b b:c c:a"),
        // Coordinates, if every atom has them.
        (molecule("<atom id='a' elementType='Cl' hydrogenCount='0' x2='1.5' y2='-0.25'/><atom id='b' elementType='Br' hydrogenCount='0'><coordinate2 builtin='xy2'>0 1e1</coordinate2></atom>", ""), "a:Cl b:Br |  | 15000,-2500 0,100000"),
        (molecule("<atom id='a' elementType='Cl' hydrogenCount='0' x2='1.5' y2='1'/><atom id='b' elementType='Br' hydrogenCount='0' x2='1'/>", ""), "a:Cl b:Br | "),
        // A generic group is the unspecified atom.
        (molecule("<atom id='r' elementType='R'/><atom id='o' elementType='O'/>", "<bond atomRefs2='r o' order='S'/>"), "r:* o:Oh1 | r-o"),
        // Ids that are numbers; an atom without an id.
        (molecule("<atom id='1' elementType='F' hydrogenCount='0'/><atom elementType='F' hydrogenCount='0'/>", ""), "1:F #2:F | "),
        // Molecules inside molecules, counts, ids that several molecules use.
        ("<molecule id='p' count='1'><molecule id='a' count='2'><atomArray><atom id='x' elementType='Na' formalCharge='1'/></atomArray></molecule>\
          <molecule id='b'><atomArray><atom id='x' elementType='S' formalCharge='-2' hydrogenCount='0'/></atomArray></molecule></molecule>".to_owned(), "a:x:Na+1 a:x_2:Na+1 b:x:S-2 | "),
        // A bond of the outer molecule between atoms of the inner ones.
        ("<molecule><molecule><atomArray><atom id='x' elementType='C'/></atomArray></molecule><molecule><atomArray><atom id='y' elementType='N'/></atomArray></molecule>\
          <bondArray><bond atomRefs2='x y' order='T'/></bondArray></molecule>".to_owned(), "x:Ch1 y:N | x#y"),
        // Ids that are said to be no labels.
        ("<molecule convention='any:unlabelled'><atomArray><atom id='u1' elementType='F' hydrogenCount='1'/></atomArray></molecule>".to_owned(), "#1:Fh1 | "),
    ];
    let mut wrong = Vec::new();
    for (text, wanted) in &cases {
        let read = molecules(text);
        let pictures: Vec<String> = read.iter().map(|molecule| picture(&molecule.structure)).collect();
        if pictures != [*wanted] || !read[0].faults.is_empty() {
            wrong.push(format!(
                "{text}\n  {pictures:?}\n  {wanted:?} {:?}",
                read.iter().map(|own| &own.faults).collect::<Vec<_>>()
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Configurations against SMILES. Which drawing is which was worked out by hand with the Cahn-Ingold-Prelog rules: L-alanine
/// is S; a chiral volume is positive where the last three atoms run clockwise seen from the first (schema 3, `atomParity`).
#[test]
fn stereochemistry_is_that_of_the_same_molecule_in_smiles() {
    let alanine = |n: &str, inside: &str| {
        let points = [("n", "N", 0, 10, 2), ("a", "C", 0, 0, 1), ("m", "C", -9, -5, 3), ("c", "C", 9, -5, 1)];
        let atoms: String = points
            .iter()
            .map(|(id, element, x, y, hydrogens)| {
                let inner = if *id == "a" { inside } else { "" };
                format!("<atom id='{id}' elementType='{element}' hydrogenCount='{hydrogens}' x2='{x}' y2='{y}'>{inner}</atom>")
            })
            .collect();
        let bonds = format!(
            "<bond atomRefs2='a n' order='S'>{n}</bond><bond atomRefs2='a m' order='S'/><bond atomRefs2='a c' order='S'/>\
             <bond atomRefs2='c o' order='D'/>"
        );
        molecule(&format!("{atoms}<atom id='o' elementType='O' x2='9' y2='-15'/>"), &bonds)
    };
    let four = |marks: [&str; 4]| {
        let points = [(10, 0), (0, 10), (-10, 0), (0, -10)];
        let elements = ["F", "Cl", "Br", "I"];
        let mut atoms = "<atom id='a' elementType='C' hydrogenCount='0' x2='0' y2='0'/>".to_owned();
        let mut bonds = String::new();
        for (at, element) in elements.iter().enumerate() {
            let (x, y) = points[at];
            atoms += &format!("<atom id='{element}' elementType='{element}' hydrogenCount='0' x2='{x}' y2='{y}'/>");
            bonds += &format!("<bond atomRefs2='a {element}' order='1'>{}</bond>", marks[at]);
        }
        molecule(&atoms, &bonds)
    };
    let wedge = "<bondStereo>W</bondStereo>";
    let hatch = "<bondStereo>H</bondStereo>";
    let butene = |inside: &str| {
        let atom = |id: &str, hydrogens: u8| format!("<atom id='{id}' elementType='C' hydrogenCount='{hydrogens}'/>");
        let bonds = "<bond atomRefs2='a b' order='S'/><bond atomRefs2='b c' order='D'>X</bond><bond atomRefs2='c d' order='S'/>";
        molecule(&[atom("a", 3), atom("b", 1), atom("c", 1), atom("d", 3)].concat(), &bonds.replace('X', inside))
    };
    let allene = |parity: i8| {
        let atoms = format!(
            "<atom id='f' elementType='F'/><atom id='a' elementType='C'/><atom id='b' elementType='C'>\
             <atomParity atomRefs4='f a c l'>{parity}</atomParity></atom><atom id='c' elementType='C'/><atom id='l' elementType='Cl'/>"
        );
        let bonds = "<bond atomRefs2='f a' order='S'/><bond atomRefs2='a b' order='D'/><bond atomRefs2='b c' order='D'/><bond atomRefs2='c l' order='S'/>";
        molecule(&atoms, bonds)
    };
    let parity = |refs: &str, value: &str| format!("<atomParity atomRefs4='{refs}'>{value}</atomParity>");
    let (d_alanine, l_alanine) = ("[NH2:1][C@H:2]([CH3:3])[CH:4]=[O:5]", "[NH2:1][C@@H:2]([CH3:3])[CH:4]=[O:5]");
    let cases = [
        // Seen from the front, with the hydrogen behind, N, C=O, CH3 run clockwise: R, D-alanine.
        (alanine(wedge, ""), d_alanine),
        (alanine(hatch, ""), l_alanine),
        (alanine("<bondStereo convention='MDL:ctfile' conventionValue='6'/>", ""), l_alanine),
        (alanine("", &parity("n a m c", "1")), l_alanine),
        (alanine("", &parity("n a m c", "-1")), d_alanine),
        (alanine("", &parity("a n m c", "0.75")), d_alanine),
        // A parity decides where a wedge says otherwise.
        (alanine(wedge, &parity("n a m c", "1")), l_alanine),
        // F, Cl, Br, I run anticlockwise on the paper, and so do the others seen from a wedged F.
        (four([wedge, "", "", ""]), "[C@:1]([F:2])([Cl:3])([Br:4])[I:5]"),
        (four([hatch, "", "", ""]), "[C@@:1]([F:2])([Cl:3])([Br:4])[I:5]"),
        (four(["", wedge, "", ""]), "[C@@:1]([F:2])([Cl:3])([Br:4])[I:5]"),
        (four([wedge, hatch, "", ""]), "[C@:1]([F:2])([Cl:3])([Br:4])[I:5]"),
        (four([wedge, "", wedge, hatch]), "[C@:1]([F:2])([Cl:3])([Br:4])[I:5]"),
        (butene("<bondStereo>C</bondStereo>"), "[CH3:1]/[CH:2]=[CH:3]\\[CH3:4]"),
        (butene("<bondStereo>T</bondStereo>"), "[CH3:1]/[CH:2]=[CH:3]/[CH3:4]"),
        (butene("<bondStereo atomRefs4='d c b a'>T</bondStereo>"), "[CH3:1]/[CH:2]=[CH:3]/[CH3:4]"),
        (butene("<string builtin='stereo'>C</string>"), "[CH3:1]/[CH:2]=[CH:3]\\[CH3:4]"),
        // An end of the allene stands for its hydrogen: F, H, H, Cl clockwise.
        (allene(1), "[F:1][CH:2]=[C@@:3]=[CH:4][Cl:5]"),
        (allene(-1), "[F:1][CH:2]=[C@:3]=[CH:4][Cl:5]"),
    ];
    let mut wrong = Vec::new();
    for (text, wanted) in &cases {
        let (mut read, faults) = read_molecule(text, &Limits::default());
        read.coordinates.clear();
        read.clear_labels();
        let mut wanted_structure = smiles(wanted);
        wanted_structure.clear_labels();
        let of = |structure: &Structure| (atoms(structure), marks(structure));
        let (found, expected) = (of(&read), of(&wanted_structure));
        if found != expected || !faults.is_empty() {
            wrong.push(format!("{wanted}\n  {found:?}\n  {expected:?} {faults:?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn faults_point_at_their_place() {
    use FaultKind::{Electrons, IdleStereo, Record, RepeatedLabel, Structure};
    let carbon = |id: &str| format!("<atom id='{id}' elementType='C'/>");
    let pair = carbon("a") + &carbon("b");
    let bond = |attributes: &str| molecule(&pair, &format!("<bond {attributes}/>"));
    let atom = |attributes: &str| molecule(&format!("<atom id='a' {attributes}/>"), "");
    let inside = |inner: &str| molecule(&format!("<atom id='a' elementType='C' hydrogenCount='2'>{inner}</atom>"), "");
    let triple = carbon("a") + &carbon("b") + &carbon("c");
    let cases: Vec<(String, &[FaultKind], &str)> = vec![
        (atom("elementType='Du'"), &[Structure], "Du"),
        (atom("elementType='Zz'"), &[Structure], "Zz"),
        (atom("elementType='c'"), &[Structure], "c"),
        (atom(""), &[Structure], "<atom id='a' />"),
        (atom("elementType='C' formalCharge='one'"), &[Structure], "one"),
        (atom("elementType='C' formalCharge='99999'"), &[Structure], "99999"),
        (atom("elementType='C' hydrogenCount='-1'"), &[Structure], "-1"),
        (atom("elementType='C' isotopeNumber='x'"), &[Structure], "x"),
        (atom("elementType='C' spinMultiplicity='0'"), &[Structure], "0"),
        (atom("elementType='C' spinMultiplicity='-9223372036854775808'"), &[Structure], "-9223372036854775808"),
        (atom("elementType='C' x2='1,5'"), &[Structure], "1,5"),
        (bond("atomRefs2='a b' order='hbond'"), &[Structure], "hbond"),
        (bond("atomRefs2='a b' order='partial01'"), &[Structure], "partial01"),
        (bond("atomRefs2='a b' order='unknown'"), &[Structure], "unknown"),
        (bond("atomRefs2='a b' order='other'"), &[Structure], "other"),
        (bond("atomRefs2='a b'"), &[Structure], "<bond atomRefs2='a b'/>"),
        (bond("atomRefs2='a b' order=''"), &[Structure], "<bond atomRefs2='a b' order=''/>"),
        (bond("atomRefs='a b' order='S'"), &[Structure], "<bond atomRefs='a b' order='S'/>"),
        (bond("atomRefs2='a' order='S'"), &[Structure], "a"),
        (bond("atomRefs2='a b a' order='S'"), &[Structure], "a b a"),
        (bond("order='S'"), &[Structure], "<bond order='S'/>"),
        (bond("atomRefs2='a z' order='S'"), &[Structure], "a z"),
        (bond("atomRefs2='a a' order='S'"), &[Structure], "a a"),
        (molecule(&pair, "<bond atomRefs2='a b' order='S'/><bond atomRefs2='b a' order='D'/>"), &[Structure], "b a"),
        (molecule(&triple, "<bond id='x' atomRefs2='a b' order='S'/><bond id='x' atomRefs2='b c' order='S'/>"), &[Structure], "<bond id='x' atomRefs2='b c' order='S'/>"),
        (molecule(&(carbon("a") + &carbon("a")), ""), &[RepeatedLabel], "<atom id='a' elementType='C'/>"),
        ("<molecule><atomArray atomID='a b' elementType='C'/></molecule>".to_owned(), &[Structure, Structure], "C"),
        ("<molecule><atomArray atomID='a' elementType='C N'/></molecule>".to_owned(), &[Structure], "N"),
        ("<molecule><atomArray atomID='a b' elementType='C N' x3='1 2 3'/></molecule>".to_owned(), &[Structure], "3"),
        ("<molecule><atomArray atomID='a b' elementType='C N'/><bondArray atomRef1='a' atomRef2='b' order='1 1'/></molecule>".to_owned(), &[Structure], "1"),
        (molecule("<atom id='a' elementType='C' hydrogenCount='0'/><atom id='h' elementType='H'/>", "<bond atomRefs2='a h' order='1'/>"), &[Structure], "0"),
        ("<molecule formalCharge='1'><atomArray><atom elementType='C'/></atomArray></molecule>".to_owned(), &[Structure], "1"),
        ("<molecule formalCharge='2'><molecule count='3'><atomArray><atom elementType='Na' formalCharge='1'/></atomArray></molecule></molecule>".to_owned(), &[Structure], "2"),
        ("<molecule count='1.5'><atomArray><atom elementType='C'/></atomArray></molecule>".to_owned(), &[Structure], "1.5"),
        ("<molecule count='4000000000'><atomArray><atom elementType='C'/></atomArray></molecule>".to_owned(), &[Record], "<molecule count='4000000000'>"),
        ("<molecule spinMultiplicity='2'><atomArray><atom elementType='C' hydrogenCount='4'/></atomArray></molecule>".to_owned(), &[Electrons], "2"),
        ("<molecule spinMultiplicity='3'><atomArray><atom id='a' elementType='O'/><atom id='b' elementType='O'/></atomArray><bondArray><bond atomRefs2='a b' order='2'/></bondArray></molecule>".to_owned(), &[Structure], "3"),
        (inside("<electron count='2'/><electron count='2'/>"), &[Electrons], "<atom id='a' elementType='C' hydrogenCount='2'>"),
        (inside("<electron count='1'/>"), &[Electrons], "<atom id='a' elementType='C' hydrogenCount='2'>"),
        (atom("elementType='C' hydrogenCount='4' spinMultiplicity='3'"), &[Electrons], "<atom id='a' elementType='C' hydrogenCount='4' spinMultiplicity='3'/>"),
        (molecule(&pair, "<bond atomRefs2='a b' order='1'><electron count='4'/></bond>"), &[Electrons], "<electron count='4'/>"),
        (inside("<electron count='x'/>"), &[Structure, Electrons], "x"),
        ("<molecule><atomArray><atom id='a' elementType='C'/></atomArray><electron atomRef='z'/></molecule>".to_owned(), &[Structure], "<electron atomRef='z'/>"),
        ("<molecule><atomArray><atom id='a' elementType='C'/></atomArray><electron bondRef='z'/></molecule>".to_owned(), &[Structure], "<electron bondRef='z'/>"),
        (inside("<atomParity atomRefs4='a a a a'>1</atomParity>"), &[IdleStereo], "<atomParity atomRefs4='a a a a'>"),
        (molecule(&pair, "<bond atomRefs2='a b' order='1'><bondStereo>C</bondStereo></bond>"), &[IdleStereo], "<bondStereo>"),
        (molecule(&pair, "<bond atomRefs2='a b' order='1'><bondStereo>W</bondStereo></bond>"), &[IdleStereo], "<bondStereo>"),
        (inside("<atomParity atomRefs4='a b c z'>1</atomParity>"), &[Structure], "<atomParity atomRefs4='a b c z'>"),
    ];
    let mut wrong = Vec::new();
    for (text, kinds, marked) in &cases {
        let found = faults(text);
        let found_kinds: Vec<FaultKind> = found.iter().map(|fault| fault.0).collect();
        if found_kinds != *kinds || found.first().is_none_or(|fault| fault.1 != *marked) {
            wrong.push(format!("{text}\n  {found:?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn ambiguous_wedges_mean_nothing() {
    // Three neighbours in a half-plane with the wedge in the middle; two bonds on one line; wedges that contradict each other.
    let drawing = |points: &[(i32, i32, &str)], hydrogens: u8| {
        let mut atoms = format!("<atom id='a' elementType='C' hydrogenCount='{hydrogens}' x2='0' y2='0'/>");
        let mut bonds = String::new();
        for (at, (x, y, mark)) in points.iter().enumerate() {
            let element = ["F", "Cl", "Br", "I"][at];
            atoms += &format!("<atom id='b{at}' elementType='{element}' hydrogenCount='0' x2='{x}' y2='{y}'/>");
            let stereo = if mark.is_empty() { String::new() } else { format!("<bondStereo>{mark}</bondStereo>") };
            bonds += &format!("<bond atomRefs2='a b{at}' order='1'>{stereo}</bond>");
        }
        molecule(&atoms, &bonds)
    };
    let cases = [
        drawing(&[(10, 3, ""), (0, 10, "W"), (-10, 3, "")], 1),
        drawing(&[(10, 0, ""), (0, 10, "W"), (-10, 0, "")], 1),
        drawing(&[(10, 0, "W"), (20, 0, ""), (-10, 0, "")], 1),
        drawing(&[(10, 0, "W"), (0, 10, "W"), (-10, 0, ""), (0, -10, "")], 0),
        drawing(&[(10, 0, "W"), (-5, 8, "H"), (-5, -8, "")], 1),
        drawing(&[(10, 0, "W"), (-5, 8, "")], 2),
        drawing(&[(10, 0, "W"), (-5, 8, ""), (-5, -8, "")], 0),
    ];
    let silent: Vec<_> = cases
        .iter()
        .filter(|text| {
            let kinds: Vec<FaultKind> = faults(text).iter().map(|fault| fault.0).collect();
            kinds != [FaultKind::IdleStereo] || molecules(text).iter().any(|own| !own.structure.stereo.is_empty())
        })
        .collect();
    assert!(silent.is_empty(), "{silent:#?}");
}

#[test]
fn a_field_is_read_as_one_drawing() {
    let ion = |id: &str, element: &str, charge: i8| {
        format!(
            "<molecule id='{id}'><atomArray><atom id='x' elementType='{element}' formalCharge='{charge}' hydrogenCount='0'/></atomArray></molecule>"
        )
    };
    let cases = [
        (ion("p", "Na", 1), "x:Na+1 | ", 0),
        (format!("  <cml><!-- two -->{}{}</cml>", ion("p", "Na", 1), ion("q", "Cl", -1)), "p:x:Na+1 q:x:Cl-1 | ", 0),
        ("<molecule/>".to_owned(), " | ", 1),
        ("<cml/>".to_owned(), " | ", 1),
        ("<reaction/>".to_owned(), " | ", 1),
        ("<molecule>".to_owned(), " | ", 1),
        ("text".to_owned(), " | ", 1),
        (String::new(), " | ", 1),
    ];
    let mut wrong = Vec::new();
    for (text, wanted, count) in &cases {
        let (structure, faults) = read_molecule(text, &Limits::default());
        if picture(&structure) != *wanted || faults.len() != *count {
            wrong.push(format!("{text}: {} {faults:?}", picture(&structure)));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    let text = "<cml><molecule><atomArray><atom id='a' elementType='C'/></atomArray></molecule>\
                <molecule><atomArray><atom id='b' elementType='Qq'/></atomArray></molecule></cml>";
    let (structure, faults) = read_molecule(text, &Limits::default());
    assert_eq!(faults.iter().map(|fault| fault.span.of(text)).collect::<Vec<_>>(), ["Qq"], "places count in the field");
    let atom = structure.atom_ids().next().map(|atom| structure.atom_span(atom).of(text));
    assert_eq!(atom, Some("<atom id='a' elementType='C'/>"));
}
