//! Read, judge, tell: one reader, one teller, as many judges as there are threads, and no thread that waits while there is
//! something to do.
//!
//! Pieces that are read wait in a queue, judged ones until all before them are told; both together are never more than a window.
//! Each thread takes what is most wanted: it tells what can be told, reads where the queue runs low, judges else. Reading and
//! telling go in order, so that only one thread does either at a time.

use rayon::Scope;
use std::collections::VecDeque;
use std::io;
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Pieces that may be on their way at one time, for each thread.
const WINDOW: usize = 8;

/// Takes everything that `read` gives through `judge` to `tell`, in the order of reading, until there is no more or `is_stopped` says
/// so. Says whether it was stopped before the end.
///
/// # Errors
/// Those of `read` and `tell`: nothing more is told then.
pub(super) fn run<P: Send, J: Send>(
    read: impl FnMut() -> io::Result<Option<P>> + Send,
    judge: impl Fn(P) -> J + Sync,
    tell: impl FnMut(J) -> io::Result<()> + Send,
    is_stopped: impl Fn() -> bool + Sync,
) -> io::Result<bool> {
    let threads = rayon::current_num_threads();
    let state = State {
        reader: Some(read),
        teller: Some(tell),
        waiting: VecDeque::new(),
        judged: VecDeque::new(),
        read: 0,
        told: 0,
        threads: 1,
        has_ended: false,
        is_cut: false,
        fault: None,
    };
    let pipeline = Pipeline { state: Mutex::new(state), judge, is_stopped, threads };
    rayon::scope(|scope| pipeline.work(scope));
    let state = pipeline.state.into_inner().unwrap_or_else(PoisonError::into_inner);
    state.fault.map_or(Ok(state.is_cut), Err)
}

struct Pipeline<P, J, R, T, F, S> {
    state: Mutex<State<P, J, R, T>>,
    judge: F,
    is_stopped: S,
    /// Threads at most.
    threads: usize,
}

struct State<P, J, R, T> {
    /// Absent while a thread reads.
    reader: Option<R>,
    /// Absent while a thread tells.
    teller: Option<T>,
    /// What was read and nobody judges yet, with its number.
    waiting: VecDeque<(usize, P)>,
    /// What was judged, from the first that was not told on; gaps where it is still judged.
    judged: VecDeque<Option<J>>,
    /// Pieces read and told so far.
    read: usize,
    told: usize,
    /// Threads at work.
    threads: usize,
    has_ended: bool,
    is_cut: bool,
    fault: Option<io::Error>,
}

/// What a thread does next.
enum Step<P, J, R, T> {
    Tell(T, J),
    Read(R),
    Judge(usize, P),
}

impl<P, J, R, T> State<P, J, R, T> {
    /// What is wanted most, taken out.
    fn next(&mut self, threads: usize) -> Option<Step<P, J, R, T>> {
        if self.fault.is_some() {
            return None;
        }
        if let (Some(Some(_)), Some(_)) = (self.judged.front(), &self.teller) {
            let (judged, teller) = (self.judged.pop_front().flatten()?, self.teller.take()?);
            self.told += 1;
            return Some(Step::Tell(teller, judged));
        }
        if self.may_read(threads) {
            return self.reader.take().map(Step::Read);
        }
        self.waiting.pop_front().map(|(number, piece)| Step::Judge(number, piece))
    }

    fn may_read(&self, threads: usize) -> bool {
        let is_room = self.waiting.len() < threads && self.read - self.told < threads * WINDOW;
        is_room && !self.has_ended && self.reader.is_some()
    }

    /// Whether there is something to do for one more thread.
    fn has_more(&self, threads: usize) -> bool {
        let can_tell = self.teller.is_some() && matches!(self.judged.front(), Some(Some(_)));
        self.fault.is_none() && (can_tell || !self.waiting.is_empty() || self.may_read(threads))
    }

    /// Reads no more and forgets what nobody judges yet.
    fn cut(&mut self) {
        self.has_ended = true;
        self.is_cut = true;
        self.waiting.clear();
    }
}

impl<P, J, R, T, F, S> Pipeline<P, J, R, T, F, S>
where
    P: Send,
    J: Send,
    R: FnMut() -> io::Result<Option<P>> + Send,
    T: FnMut(J) -> io::Result<()> + Send,
    F: Fn(P) -> J + Sync,
    S: Fn() -> bool + Sync,
{
    fn state(&self) -> MutexGuard<'_, State<P, J, R, T>> {
        // A lock can only be poisoned by a panic, and there is none.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// What one thread does, until there is nothing to do for it.
    fn work<'s>(&'s self, scope: &Scope<'s>) {
        loop {
            let step = {
                let mut state = self.state();
                let Some(step) = state.next(self.threads) else {
                    state.threads -= 1;
                    return;
                };
                if state.threads < self.threads && state.has_more(self.threads) {
                    state.threads += 1;
                    scope.spawn(|scope| self.work(scope));
                }
                step
            };
            match step {
                Step::Tell(teller, judged) => self.tell(teller, judged),
                Step::Read(reader) => self.read(reader),
                Step::Judge(number, piece) => self.judge(number, piece),
            }
        }
    }

    fn tell(&self, mut teller: T, judged: J) {
        let told = teller(judged);
        let mut state = self.state();
        state.teller = Some(teller);
        state.fault = state.fault.take().or(told.err());
    }

    fn read(&self, mut reader: R) {
        let piece = reader();
        let mut state = self.state();
        state.reader = Some(reader);
        match piece {
            // Only where something is left is the end not the end.
            Ok(Some(_)) if (self.is_stopped)() => state.cut(),
            Ok(Some(piece)) => {
                let number = state.read;
                state.read += 1;
                state.judged.push_back(None);
                state.waiting.push_back((number, piece));
            }
            Ok(None) => state.has_ended = true,
            Err(fault) => state.fault = state.fault.take().or(Some(fault)),
        }
    }

    fn judge(&self, number: usize, piece: P) {
        if (self.is_stopped)() {
            self.state().cut();
            return;
        }
        let judged = (self.judge)(piece);
        let mut state = self.state();
        let place = number - state.told;
        if let Some(slot) = state.judged.get_mut(place) {
            *slot = Some(judged);
        }
    }
}
