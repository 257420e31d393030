//! Signals that would end the program without a word.

/// Lets a write beyond the size a file may have here fail with an error, as one on a full disk does,
/// instead of ending the program. Where there is no such signal, nothing happens.
pub fn ignore_sigxfsz() {
    #[cfg(unix)]
    {
        use std::sync::Arc;
        use std::sync::atomic::AtomicBool;

        // The flag is of no interest: what counts is that the signal no longer ends the program.
        // Where it cannot be caught all is as it would have been.
        let came = Arc::new(AtomicBool::new(false));
        let _ = signal_hook::flag::register(signal_hook::consts::SIGXFSZ, came);
    }
}
