//! A bar on a terminal; nothing where standard error is not one.

use crate::answer::check::{Progress, Silent};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::IsTerminal;

/// A bar on standard error.
#[derive(Debug)]
struct Bar(ProgressBar);

impl Progress for Bar {
    fn stage(&self, name: &str, steps: usize) {
        self.0.set_message(name.to_owned());
        self.0.set_position(0);
        self.0.set_length(u64::try_from(steps).unwrap_or(u64::MAX));
    }

    fn step(&self) {
        self.0.inc(1);
    }
}

impl Drop for Bar {
    fn drop(&mut self) {
        self.0.finish_and_clear();
    }
}

/// Whoever is to be told how far a long answer has come. The bar goes away when it is dropped.
#[must_use]
pub fn progress() -> Box<dyn Progress> {
    if !std::io::stderr().is_terminal() {
        return Box::new(Silent);
    }
    let bar = ProgressBar::with_draw_target(Some(0), ProgressDrawTarget::stderr());
    if let Ok(style) = ProgressStyle::with_template("{msg} [{bar:30}] {pos} of {len}, {elapsed}") {
        bar.set_style(style.progress_chars("=> "));
    }
    Box::new(Bar(bar))
}
