//! Ctrl-C: the first asks for a clean stop, the second ends the program at once.

use super::exit::Exit;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Ctrl-C ends the program with a word and its own exit code, for what takes seconds at most.
pub fn end_on_ctrl_c() {
    let handler = || {
        super::say("stopped; nothing was written");
        std::process::exit(i32::from(Exit::Stopped.number()));
    };
    // Without a handler it ends the program all the same.
    let _ = ctrlc::set_handler(handler);
}

/// A flag that Ctrl-C sets. Where no handler can be set, Ctrl-C ends the program as usual.
#[must_use]
pub fn on_ctrl_c() -> Arc<AtomicBool> {
    let stop = Arc::new(AtomicBool::new(false));
    let asked = Arc::clone(&stop);
    let handler = move || {
        if asked.swap(true, Ordering::SeqCst) {
            std::process::exit(i32::from(Exit::Stopped.number()));
        }
    };
    if ctrlc::set_handler(handler).is_err() {
        super::say("note: Ctrl-C will end the program without a word");
    }
    stop
}
