//! Rings of pairs that close on themselves: every second bond gives its pair to the next, and no charge changes.

use super::moves::Step;
use super::system::{MOST_ORDER, State, System};
use crate::arrows::Moves;
use smallvec::SmallVec;

/// Pi pairs of the rings that are looked for, few first: benzene has three, the way round azulene five, round porphine nine.
const SIZES: [usize; 4] = [3, 5, 7, 9];
/// Bonds that one search for rings of one size may walk.
const STEPS: u32 = 4_000;

/// Shows each turn of pairs round a ring to `take`. Rings of any size are found up to eighteen atoms, as far as the steps reach.
pub(super) fn turns(system: &System, state: &State, take: &mut dyn FnMut(Step)) {
    let double: Vec<u32> = (0..system.links.len() as u32).filter(|link| system.order(state, *link) > 1).collect();
    if double.len() < 2 {
        return;
    }
    let mut least = 2;
    for most in SIZES {
        let mut walk = Walk { system, state, on_path: vec![false; system.sites.len()], left: STEPS };
        for first in &double {
            walk.from(*first, least, most, take);
        }
        least = most + 1;
    }
}

struct Walk<'a> {
    system: &'a System,
    state: &'a State,
    on_path: Vec<bool>,
    left: u32,
}

/// A pi bond that gives its pair, the bond that takes it, and where to go on from.
#[derive(Clone, Copy)]
struct Frame {
    /// The pi bond.
    double: u32,
    /// Its far end.
    end: u32,
    /// The bond from `end` that is looked at next.
    next: usize,
}

impl Walk<'_> {
    /// Rings whose first pi bond, in the order of the links, is `first`, with `least` to `most` pi bonds.
    fn from(&mut self, first: u32, least: usize, most: usize, take: &mut dyn FnMut(Step)) {
        let [start, end] = self.system.links[first as usize].ends;
        let mut frames = vec![Frame { double: first, end, next: 0 }];
        // The bonds that take a pair, one between each two frames.
        let mut single: Vec<u32> = Vec::new();
        self.on_path[start as usize] = true;
        self.on_path[end as usize] = true;
        while let Some(frame) = frames.last_mut() {
            let step = self.system.around[frame.end as usize].get(frame.next).copied();
            frame.next += 1;
            let Some((link, site)) = step.filter(|_| self.left > 0) else {
                let done = frame.double;
                frames.pop();
                single.pop();
                if done != first {
                    self.leave(done);
                }
                continue;
            };
            self.left -= 1;
            let pairs = frames.len();
            if frames.iter().any(|frame| frame.double == link) || self.system.order(self.state, link) >= MOST_ORDER {
                continue;
            }
            if site == start && pairs >= least {
                take(self.turn(&frames, &single, link));
            } else if pairs < most && !self.on_path[site as usize] {
                // Where a site has two pi bonds, as in a cumulene, the first is followed: no ring turns there.
                for (double, beyond) in self.system.around[site as usize].iter().copied() {
                    let fits = double > first && double != link && self.system.order(self.state, double) > 1;
                    if fits && !self.on_path[beyond as usize] {
                        self.on_path[site as usize] = true;
                        self.on_path[beyond as usize] = true;
                        single.push(link);
                        frames.push(Frame { double, end: beyond, next: 0 });
                        break;
                    }
                }
            }
        }
        self.on_path[start as usize] = false;
        self.on_path[end as usize] = false;
    }

    fn leave(&mut self, double: u32) {
        for end in self.system.links[double as usize].ends {
            self.on_path[end as usize] = false;
        }
    }

    fn turn(&self, frames: &[Frame], single: &[u32], last: u32) -> Step {
        let heads = single.iter().copied().chain([last]);
        frames
            .iter()
            .zip(heads)
            .map(|(frame, head)| (Moves::Pair, self.system.slot(frame.double), self.system.slot(head)))
            .collect::<SmallVec<_>>()
    }
}
