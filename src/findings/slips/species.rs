//! `species-left-out`: beside another slip, the answer leaves whole species out.

use super::Explanation;
use super::table::Slip;

impl Explanation {
    /// Adds that species are left out, `words` naming them. Two slips explain an answer, more are a guess about its author.
    pub fn leaving_out(mut self, words: &str) -> Self {
        debug_assert!(!words.is_empty());
        if self.slips.len() == 1 {
            self.slips.push(Slip::SpeciesLeftOut);
            self.sentence = format!("{}, without {words}", self.sentence);
        }
        self
    }
}
