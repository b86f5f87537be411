//! All integration tests in one program.

mod suite {
    mod localise;
    mod molecules;
}
