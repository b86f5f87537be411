//! Inputs swept through without a judgement of the whole: each batch is worked on by some thread, what comes of it is told in the
//! order of the bank.

use super::{Input, pipeline};
use crate::bank::{Batch, OpenError, Settings};
use std::io;
use std::sync::Arc;

/// What could not be swept.
#[derive(Debug, Clone, Default)]
pub struct Unswept {
    /// Inputs that could not be read, or not to their end, and why.
    pub unread: Vec<(String, String)>,
    /// Inputs that hold no items, and what they hold.
    pub without_items: Vec<(String, String)>,
}

/// Takes every batch of the inputs through `work`, with the number of its input and its own number in that input, both counted from
/// 0, to `tell`.
///
/// # Errors
/// Those of `tell`. Inputs that cannot be read are in the answer.
pub fn sweep<T: Send>(
    settings: &Arc<Settings>,
    inputs: &[Input],
    work: impl Fn(usize, usize, Batch) -> T + Sync,
    mut tell: impl FnMut(usize, T) -> io::Result<()> + Send,
) -> io::Result<Unswept> {
    let mut unswept = Unswept::default();
    for (number, input) in inputs.iter().enumerate() {
        let mut source = match input.open(settings, None, None) {
            Ok(source) => source,
            Err(OpenError::NoItems(what)) => {
                unswept.without_items.push((input.name.clone(), what));
                continue;
            }
            Err(error) => {
                unswept.unread.push((input.name.clone(), error.to_string()));
                continue;
            }
        };
        let mut ended_by = None;
        let mut at = 0;
        let read = || match source.next_batch() {
            Ok(batch) => {
                let numbered = batch.map(|batch| (at, batch));
                at += 1;
                Ok(numbered)
            }
            Err(error) => {
                ended_by = Some(error);
                Ok(None)
            }
        };
        pipeline::run(read, |(at, batch)| work(number, at, batch), |told| tell(number, told), || false)?;
        if let Some(error) = ended_by {
            unswept.unread.push((input.name.clone(), format!("could not be read to its end: {error}")));
        }
    }
    Ok(unswept)
}
