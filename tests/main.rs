//! All integration tests in one program.

mod suite {
    mod amend;
    mod architecture;
    mod audits;
    mod bystanders;
    mod canon;
    mod choices;
    mod cml;
    mod cml_arrows;
    mod cml_audit;
    mod cml_hostile;
    mod cml_reader;
    mod cml_reference;
    mod cml_write;
    mod contributors;
    mod convert;
    mod corpus;
    mod correspond;
    mod drawings;
    mod encodings;
    mod hostile;
    mod hostile_zips;
    mod infer;
    mod judged;
    mod localise;
    mod machine_reports;
    mod molecules;
    mod nights;
    mod pages;
    mod profiles;
    mod properties;
    mod published;
    mod quick;
    mod radicals;
    mod resonance;
    mod sequences;
    mod slips;
    mod stereo;
    mod witness;
    mod witness_contributors;
    mod witness_goldbook;
    mod witness_items;
    mod witness_pushes;
    mod witness_smiles;
    mod witness_structures;
}
