//! What looks on: species left out on purpose, counter-ions, metals.

use super::judged::{Case, hold};
use keyassay::bank::Format;
use keyassay::findings::Settings;

const HEADER: &str = "id,start,arrows,answer,omits\n";

const CASES: &[Case] = &[
    // Counter-ions and metals beside the step, in any order and drawn or left out on purpose.
    ("q,[Na+].[OH-].CBr,2 -> 2-3; 3-4 -> 4,[Br-].CO.[Na+],", "", ""),
    ("q,[Na+].[OH-].CBr,2 -> 2-3; 3-4 -> 4,[Br-].CO,", "omitted-species", "leaves out [Na+]"),
    ("q,[Na+].[OH-].CBr,2 -> 2-3; 3-4 -> 4,CO,[Na+] [Br-]", "", ""),
    ("q,[Na+].[OH-].CBr,2 -> 2-3; 3-4 -> 4,CO,[Na+].[Br-]", "", ""),
    ("q,[Na+].[OH-].CBr,2 -> 2-3; 3-4 -> 4,CO,[Na+].*", "", ""),
    ("q,[Na+].[OH-].CBr,2 -> 2-3; 3-4 -> 4,CO,[Na+]", "omitted-species", "leaves out [Br-]"),
    ("q,[Pd].Cl[Pd]Cl.[OH-].CBr,5 -> 5-6; 6-7 -> 7,CO.[Br-].[Pd].Cl[Pd]Cl,", "", ""),
    ("q,[Fe+3].F[B-](F)(F)F.[OH-].CBr,7 -> 7-8; 8-9 -> 9,F[B-](F)(F)F.CO.[Br-].[Fe+3],", "", ""),
    ("q,C[Mg]Br.C=O,1-2 -> 1-4; 4-5 -> 5,CC[O-].[Mg+]Br,", "", ""),
    ("q,[Li]CC.CI,1-2 -> 2-4; 4-5 -> 5,CCC.[I-].[Li+],", "", ""),
    // A metal that changes is no bystander.
    (
        "q,[K+].[OH-].CBr,2 -> 2-3; 3-4 -> 4,[Br-].CO.[Na+],",
        "mismatched-product unbalanced-atoms bystander-changed",
        "",
    ),
    // Labels, hydrogens drawn out, another writing: a species is a species.
    ("q,[OH2+:1][H:2].[NH3:3],3 -> 3-2; 1-2 -> 1,[NH3+:3][H:2],O", "", ""),
    ("q,[OH2+:1][H:2].[NH3:3],3 -> 3-2; 1-2 -> 1,[NH3+:3][H:2],[H]O[H]", "", ""),
    ("q,[O-]c1ccccc1.CBr,1 -> 1-8; 8-9 -> 9,[Br-],COC1=CC=CC=C1", "", ""),
    // What leaves nothing out may say so.
    ("q,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br-],[Cl-]", "", ""),
    // A list that cannot be read excuses nothing and says so.
    ("q,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO.[Br-],[Cl-", "unreadable-structure", "what the item leaves out on purpose"),
    ("q,[OH-].CBr,1 -> 1-2; 2-3 -> 3,CO,water", "unreadable-structure omitted-species", ""),
];

#[test]
fn bystanders_never_disturb_a_step() {
    hold(HEADER, Format::Csv, &Settings::default(), CASES);
}
