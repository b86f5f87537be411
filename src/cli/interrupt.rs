//! An interrupt from the terminal, or the request of a scheduler to end.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

/// The exit status of a program that an interrupt ended: 128 and the number of that signal. A request to end, as schedulers send
/// it when the time of a job is over, is answered alike.
pub(super) const STATUS: u8 = 130;

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

/// Lets writing fail where a limit on the size of files is met: the system ends the program there, unless somebody listens.
pub(super) fn outlive_limits() {
    #[cfg(unix)]
    {
        // Nobody reads the flag: that the signal is caught is enough. Where the system refuses, it ends the program as before.
        let _ = signal_hook::flag::register(signal_hook::consts::SIGXFSZ, Arc::new(AtomicBool::new(false)));
    }
}
