//! An interrupt from the terminal, or the request of a scheduler to end.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

/// The exit status of a program that an interrupt ended: 128 and the number of that signal. A request to end, as schedulers send
/// it when the time of a job is over, is answered alike.
pub(super) const STATUS: u8 = 130;

/// The exit status of a job that could not be done.
#[cfg(unix)]
const CANNOT: i32 = 2;

/// Stack that the main thread is given at once. Later on there may be no memory for it to grow, which no program survives.
const STACK: usize = 256 << 10;

/// Uses so much of the stack that the rest of the program finds it there.
#[inline(never)]
#[allow(clippy::large_stack_arrays, reason = "the stack is what is wanted")]
fn touch_stack() {
    std::hint::black_box(&mut [0_u8; STACK]);
}

/// A flag that the first interrupt sets, so that what is known can be written down. The second one ends the program on the
/// spot.
pub(super) fn watched() -> Arc<AtomicBool> {
    use signal_hook::consts::{SIGINT, SIGTERM};
    let stop = Arc::new(AtomicBool::new(false));
    // In this order: the second interrupt finds the flag set by the first. Where the system refuses, an interrupt ends the
    // program as it ends any other.
    for signal in [SIGINT, SIGTERM] {
        let _ = signal_hook::flag::register_conditional_shutdown(signal, i32::from(STATUS), Arc::clone(&stop));
        let _ = signal_hook::flag::register(signal, Arc::clone(&stop));
    }
    stop
}

/// Lets writing fail where a limit on the size of files is met: the system ends the program there, unless somebody listens. Where
/// memory is refused, the standard library says how much was asked for and aborts: that ends with the status of a job that could
/// not be done, not by a signal.
pub(super) fn outlive_limits() {
    touch_stack();
    #[cfg(unix)]
    {
        let always = Arc::new(AtomicBool::new(true));
        let _ = signal_hook::flag::register_conditional_shutdown(signal_hook::consts::SIGABRT, CANNOT, always);
        // Nobody reads the flag: that the signal is caught is enough. Where the system refuses, it ends the program as before.
        let _ = signal_hook::flag::register(signal_hook::consts::SIGXFSZ, Arc::new(AtomicBool::new(false)));
    }
}
