//! All integration tests in one program.

mod suite {
    mod architecture;
    mod canon;
    mod correspond;
    mod localise;
    mod molecules;
    mod witness;
    mod witness_contributors;
    mod witness_goldbook;
    mod witness_items;
    mod witness_pushes;
    mod witness_smiles;
    mod witness_structures;
}
