//! The items that the benches of the parts measure.

/// Twenty heavy atoms, every atom labelled: a displacement, an addition, a resonance form, a deprotonation.
pub const ITEMS: [(&str, &str, &str, &str); 4] = [
    (
        "step",
        "[OH-:1].[CH3:2][CH:3]([Br:4])[CH2:5][CH2:6][O:7][CH2:8][CH:9]=[CH:10][CH2:11][CH:12]([OH:13])[CH2:14][CH2:15][S:16][CH3:17].[Na+:18].[OH2:19].[CH4:20]",
        "1 -> 1-3; 3-4 -> 4",
        "[OH:1][CH:3]([CH3:2])[CH2:5][CH2:6][O:7][CH2:8][CH:9]=[CH:10][CH2:11][CH:12]([OH:13])[CH2:14][CH2:15][S:16][CH3:17].[Br-:4].[Na+:18].[OH2:19].[CH4:20]",
    ),
    (
        "step",
        "[CH3:1][CH:2]=[CH:3][CH2:4][CH2:5][O:6][CH2:7][CH2:8][CH:9]([OH:10])[CH2:11][N:12]([CH3:13])[CH2:14][CH2:15][C:16](=[O:17])[CH3:18].[H:19][Cl:20]",
        "2-3 -> 2-19; 19-20 -> 20",
        "[CH3:1][CH:2]([H:19])[CH+:3][CH2:4][CH2:5][O:6][CH2:7][CH2:8][CH:9]([OH:10])[CH2:11][N:12]([CH3:13])[CH2:14][CH2:15][C:16](=[O:17])[CH3:18].[Cl-:20]",
    ),
    (
        "resonance",
        "[CH3:1][C:2](=[O:3])[CH-:4][C:5](=[O:6])[CH2:7][CH2:8][O:9][CH2:10][CH2:11][CH:12]([F:13])[CH2:14][CH2:15][CH:16]=[CH:17][CH2:18][CH2:19][OH:20]",
        "4 -> 4-5; 5-6 -> 6",
        "[CH3:1][C:2](=[O:3])[CH:4]=[C:5]([O-:6])[CH2:7][CH2:8][O:9][CH2:10][CH2:11][CH:12]([F:13])[CH2:14][CH2:15][CH:16]=[CH:17][CH2:18][CH2:19][OH:20]",
    ),
    (
        "step",
        "[OH-:1].[CH3:2][CH2:3][C:4](=[O:5])[O:6][CH2:7][CH2:8][CH2:9][CH:10]([CH3:11])[CH2:12][O:13][CH2:14][CH2:15][CH2:16][CH2:17][CH2:18][Cl:19].[K+:20]",
        "1 -> 1-3h; 3h-3 -> 3-4; 4-5 -> 5",
        "[OH2:1].[CH3:2][CH:3]=[C:4]([O-:5])[O:6][CH2:7][CH2:8][CH2:9][CH:10]([CH3:11])[CH2:12][O:13][CH2:14][CH2:15][CH2:16][CH2:17][CH2:18][Cl:19].[K+:20]",
    ),
];
