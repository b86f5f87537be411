//! Items whose answer is a set of contributors.

use super::judged::{Case, hold, judged};
use keyassay::bank::{Accept, Format};
use keyassay::findings::Settings;
use std::process::Command;

const HEADER: &str = "id,task,start,answers,major,omits\n";

const CASES: &[Case] = &[
    (
        "q,contributors,CC(=O)[O-],CC(=O)[O-],,",
        "[indistinct-contributor]",
        "contributor 1 stands for 2 forms of the compound",
    ),
    ("q,contributors,[CH3:1][C:2](=[O:3])[O-:4],[CH3:1][C:2](=[O:3])[O-:4] [CH3:1][C:2]([O-:3])=[O:4],,", "", ""),
    // Positions are labels where the start has none and the answers have.
    ("q,contributors,CC(=O)[O-],[CH3:1][C:2](=[O:3])[O-:4] [CH3:1][C:2]([O-:3])=[O:4],,", "", ""),
    (
        "q,contributors,[CH3:1][C:2](=[O:3])[O-:4],[CH3:1][C:2](=[O:3])[O-:4],,",
        "missing-contributor",
        "omits a contributor of the first rank: [CH3:1][C:2]([O-:3])=[O:4]",
    ),
    (
        "q,contributors,O=C([O-])[O-],[O:1]=[C:2]([O-:3])[O-:4],,",
        "missing-contributor",
        "omits contributors of the first rank",
    ),
    // The lower ranks need not be drawn, and may be.
    ("q,contributors,CC(N)=O,CC(N)=O,,", "", ""),
    (
        "q,contributors,CC(N)=O,CC(N)=O C[C](N)[O],,",
        "illegal-contributor",
        "contributor 2: as many electrons stay unpaired: it has 2, the start 0",
    ),
    ("q,contributors,CC(N)=O,CC(N)=O CC(=[NH2+])[O-] C[C+](N)[O-],,", "", ""),
    ("q,contributors,[CH2-]C=O,[CH2-]C=O,,", "missing-contributor", "C=C[O-]"),
    // Rules that a drawing breaks, each by its name.
    (
        "q,contributors,CC(C)=O,CC(C)=O C=C(C)O,,",
        "illegal-contributor",
        "atoms stay where they are, and a hydrogen has moved",
    ),
    (
        "q,contributors,[Cl:1][CH2:2][CH:3]=[CH2:4],[Cl:1][CH2:2][CH:3]=[CH2:4] [Cl:1][CH2:4][CH:3]=[CH2:2],,",
        "illegal-contributor",
        "sigma bonds stay: bond Cl1-C2: in the start single, here no bond",
    ),
    ("q,contributors,CC(C)=O,CC(C)=O CC(C)=S,,", "illegal-contributor", "contributors have the same atoms"),
    ("q,contributors,CC(C)=O,CC(C)=O CC(C)[O-],,", "illegal-contributor", "contributors have the same atoms"),
    (
        "q,contributors,C=C[CH2+],C=C[CH2+] C=C[CH2-],,",
        "illegal-contributor [indistinct-contributor]",
        "electrons stay the same: it has 2 more than the start",
    ),
    (
        "q,contributors,C[N+](=O)[O-],C[N+](=O)[O-] CN(=O)=O,,",
        "illegal-contributor [indistinct-contributor]",
        "no shell is over-full: N#2 would have 5 bonds and charge 0, 10 electrons",
    ),
    ("q,contributors,C=CC=C,C=CC=C [CH2]C=C[CH2],,", "illegal-contributor", "as many electrons stay unpaired"),
    ("q,contributors,[CH2:1]=[CH:2][CH2:3],[CH2:1]=[CH:2][CH2:3] [CH2:1][CH:2]=[CH2:3],,", "", ""),
    // Without labels, forms that a symmetry exchanges are one drawing: as many as there are may be drawn, no copies.
    ("q,contributors,CC(=O)[O-],CC(=O)[O-] CC([O-])=O,,", "[indistinct-contributor]", "contributors 1 and 2 are one"),
    (
        "q,contributors,CC(=O)[O-],CC(=O)[O-] CC(=O)[O-],,",
        "repeated-contributor [indistinct-contributor]",
        "contributor 2",
    ),
    (
        "q,contributors,CC(=O)[O-],CC(=O)[O-] CC([O-])=O O=C(C)[O-],,",
        "repeated-contributor [indistinct-contributor]",
        "contributor 3 is the same drawing as contributors 1 and 2, and the compound has 2 such forms",
    ),
    ("q,contributors,C=C[CH2+],C=C[CH2+] [CH2+]C=C,,", "[indistinct-contributor]", ""),
    ("q,contributors,C=C[CH2],C=C[CH2] [CH2]C=C,,", "[indistinct-contributor]", ""),
    ("q,contributors,C=C[CH2-],[CH2-]C=C,,", "[indistinct-contributor]", ""),
    ("q,contributors,C[N+](=O)[O-],C[N+](=O)[O-] C[N+]([O-])=O,,", "[indistinct-contributor]", ""),
    ("q,contributors,[O-][O+]=O,[O-][O+]=O O=[O+][O-],,", "[indistinct-contributor]", ""),
    ("q,contributors,c1ccccc1,C1=CC=CC=C1 C1C=CC=CC=1,,", "[indistinct-contributor]", ""),
    (
        "q,contributors,C=CC=C[CH2+],C=CC=C[CH2+] [CH2+]C=CC=C C=C[CH+]C=C,,",
        "[indistinct-contributor]",
        "contributors 1 and 2 are one drawing",
    ),
    ("q,contributors,NC(=[NH2+])N,NC(=[NH2+])N [NH2+]=C(N)N,,", "[indistinct-contributor]", "3 forms"),
    // Without a symmetry there is one such form.
    ("q,contributors,CC=C[CH2+],CC=C[CH2+] C[CH+]C=C [CH2+]C=CC,,", "repeated-contributor", "contributor 3"),
    // Forms beyond those that are listed are counted among their own.
    (
        "q,contributors,CC(=O)C(C)=O,CC(=O)C(C)=O C[C+]([O-])C(C)=O CC(=O)[C+](C)[O-],,",
        "[indistinct-contributor]",
        "contributors 2 and 3",
    ),
    // Labels decide where they stand.
    (
        "q,contributors,C=C[CH2+],[CH2:1]=[CH:2][CH2+:3] [CH2+:3][CH:2]=[CH2:1],,",
        "repeated-contributor missing-contributor",
        "",
    ),
    // Who draws one form of a ring for both is not told of the other; who draws two is.
    (
        "q,contributors,[CH2+:1][C:2]1=[CH:3][CH:4]=[CH:5][CH:6]=[CH:7]1,[CH2+:1][C:2]1=[CH:3][CH:4]=[CH:5][CH:6]=[CH:7]1 [CH2:1]=[C:2]1[CH+:3][CH:4]=[CH:5][CH:6]=[CH:7]1 [CH2:1]=[C:2]1[CH:3]=[CH:4][CH+:5][CH:6]=[CH:7]1 [CH2:1]=[C:2]1[CH:3]=[CH:4][CH:5]=[CH:6][CH+:7]1,,",
        "",
        "",
    ),
    (
        "q,contributors,[CH2+:1][C:2]1=[CH:3][CH:4]=[CH:5][CH:6]=[CH:7]1,[CH2+:1][C:2]1=[CH:3][CH:4]=[CH:5][CH:6]=[CH:7]1 [CH2:1]=[C:2]1[CH+:3][CH:4]=[CH:5][CH:6]=[CH:7]1 [CH2:1]=[C:2]1[CH:3]=[CH:4][CH:5]=[CH:6][CH+:7]1,,",
        "missing-contributor",
        "[CH2:1]=[C:2]1[CH:3]=[CH:4][CH+:5][CH:6]=[CH:7]1",
    ),
    ("q,contributors,c1ccccc1,[CH:1]1=[CH:2][CH:3]=[CH:4][CH:5]=[CH:6]1,,", "missing-contributor", ""),
    (
        "q,contributors,c1ccccc1,[CH:1]1=[CH:2][CH:3]=[CH:4][CH:5]=[CH:6]1 [CH:1]=1[CH:2]=[CH:3][CH:4]=[CH:5][CH:6]1,,",
        "",
        "",
    ),
    // Counter-ions may stay away.
    ("q,contributors,CC(=O)[O-].[Na+],CC(=O)[O-],,", "omitted-species [indistinct-contributor]", "leave out [Na+]"),
    ("q,contributors,CC(=O)[O-].[Na+],CC(=O)[O-],,[Na+]", "[indistinct-contributor]", ""),
    ("q,contributors,CC(=O)[O-].[Na+],[O-]C(C)=O.[Na+],,", "[indistinct-contributor]", ""),
    // Which one counts most is advice.
    ("q,contributors,CC(N)=O,CC(N)=O CC(=[NH2+])[O-],1,", "", ""),
    (
        "q,contributors,CC(N)=O,CC(N)=O CC(=[NH2+])[O-],2,",
        "doubtful-major",
        "contributor 1 counts more (then the fewest charges",
    ),
    ("q,contributors,CC(N)=O,CC(N)=O CC(=[NH2+])[O-],B,", "doubtful-major", ""),
    ("q,contributors,CC(N)=O,CC(N)=O CC(=[NH2+])[O-],3,", "missing-field", "'3' names no contributor"),
    ("q,contributors,CC(=O)[O-],CC(=O)[O-],\"1, 1\",", "[indistinct-contributor]", ""),
    ("q,contributors,C[N+](=O)[O-],C[N+](=O)[O-] CN(=O)=O,2,", "illegal-contributor [indistinct-contributor]", ""),
    // What cannot be read.
    ("q,contributors,,C=C[CH2+],,", "missing-field", "the item has no start"),
    ("q,contributors,C=C[CH2+],,,", "missing-field", "the item states no contributors"),
    ("q,contributors,C=C[CH2+],C=C[CH2+ C=C[CH2+],,", "unreadable-structure [indistinct-contributor]", "contributor 1"),
];

#[test]
fn sets_are_held_to_the_rules_of_resonance() {
    hold(HEADER, Format::Csv, &Settings::default(), CASES);
    let json = r#"{"id":"q","task":"contributors","start":"C=C[CH2-]","answers":["C=C[CH2-]","[CH2-]C=C"]}"#;
    hold("", Format::JsonLines, &Settings::default(), &[(json, "[indistinct-contributor]", "")]);
}

/// Items that take any contributor of the product, or the drawing itself.
const ACCEPTED: &[Case] = &[
    ("q,,C=CC=C.Br,1-2 -> 1-5h; 5-5h -> 5,C[CH+]C=C.[Br-],contributor", "", ""),
    ("q,,C=CC=C.Br,1-2 -> 1-5h; 5-5h -> 5,CC=C[CH2+].[Br-],contributor", "", ""),
    ("q,,C=CC=C.Br,1-2 -> 1-5h; 5-5h -> 5,CC=C[CH2+].[Br-],drawing", "mismatched-product bystander-changed", ""),
    ("q,,C=CC=C.Br,1-2 -> 1-5h; 5-5h -> 5,CC=C[CH2+],contributor", "omitted-species", "leaves out [Br-]"),
    (
        "q,,C=CC=C.Br,1-2 -> 1-5h; 5-5h -> 5,[CH2-]C=C[CH2+].[Br-],contributor",
        "mismatched-product unbalanced-charge unbalanced-atoms bystander-changed",
        "",
    ),
    ("q,,CC(=O)C.[OH-],5 -> 5-1h; 1-1h -> 1,C=C([O-])C.O,Contributor", "", ""),
    ("q,,CC(=O)C.[OH-],5 -> 5-1h; 1-1h -> 1,C=C(O)C.[OH-],contributor", "mismatched-product bystander-changed", ""),
    ("q,resonance,[CH2:1]=[CH:2][CH2+:3],1-2 -> 2-3,[CH2:1]=[CH:2][CH2+:3],contributor", "", ""),
    ("q,,C=CC=C.Br,1-2 -> 1-5h; 5-5h -> 5,C[CH+]C=C.[Br-],both", "unreadable-record", "'both' is nothing to accept"),
];

#[test]
fn any_contributor_is_right_where_the_item_says_so() {
    let header = "id,task,start,arrows,answer,accept\n";
    hold(header, Format::Csv, &Settings::default(), ACCEPTED);
    let settings = Settings { accept: Accept::Contributor, ..Settings::default() };
    let case = "q,,C=CC=C.Br,1-2 -> 1-5h; 5-5h -> 5,CC=C[CH2+].[Br-],";
    hold(header, Format::Csv, &settings, &[(case, "", "")]);
    let json = r#"{"id":"q","start":"C=CC=C.Br","arrows":"1-2 -> 1-5h; 5-5h -> 5","answer":"CC=C[CH2+].[Br-]","accept":"contributor"}"#;
    hold("", Format::JsonLines, &Settings::default(), &[(json, "", "")]);
}

/// A large set costs a fingerprint each, and a molecule with very many contributors an answer.
#[test]
fn large_sets_end() {
    let answers: Vec<String> = (0..900).map(|at| format!("\"{}C(=O)[O-]\"", "C".repeat(1 + at))).collect();
    let item = format!(
        "{{\"id\":\"q\",\"task\":\"contributors\",\"start\":\"CC(=O)[O-]\",\"answers\":[{}]}}\n",
        answers.join(",")
    );
    let items = judged(&item, Format::JsonLines, &Settings::default());
    assert_eq!(items[0].findings.len(), 900);
    let polyene = format!("{}[CH2+]", "C=CC(C=C)=C".repeat(20));
    let many =
        format!("{{\"id\":\"q\",\"task\":\"contributors\",\"start\":\"{polyene}\",\"answers\":[\"{polyene}\"]}}\n");
    let items = judged(&many, Format::JsonLines, &Settings::default());
    assert!(items[0].names().contains("missing-contributor"), "{}", items[0].names());
}

fn program(arguments: &[&str]) -> (i32, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_keyassay")).args(arguments).output().expect("the program starts");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (output.status.code().unwrap_or(-1), text(&output.stdout), text(&output.stderr))
}

#[test]
fn the_command_lists_them_ranked_with_arrows() {
    let (status, out, _) = program(&["contributors", "[CH2-:1][CH:2]=[O:3]"]);
    let lines: Vec<&str> = out.lines().take(2).collect();
    assert_eq!(lines, ["1\t[CH2:1]=[CH:2][O-:3]", "2\t[CH2-:1][CH:2]=[O:3]\t3 -> 2-3; 1-2 -> 1"]);
    assert_eq!(status, 0);
    assert!(out.contains("no laboratory procedure"), "{out}");
    let (_, all, _) = program(&["contributors", "CC(=O)C", "--all"]);
    assert!(all.contains("[CH3:1][C+:2]([O-:3])[CH3:4]"), "{all}");
    let (status, _, complaint) = program(&["contributors", "CC(=O"]);
    assert_eq!(status, 1);
    assert!(complaint.contains('^'), "{complaint}");
    let file = std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join("contributors.svg");
    let (status, ..) = program(&["contributors", "O=C([O-])[O-]", "--draw", &file.to_string_lossy()]);
    let svg = std::fs::read_to_string(&file).unwrap_or_default();
    assert_eq!((status, svg.matches("rank 1").count() >= 3), (0, true), "{svg}");
}
