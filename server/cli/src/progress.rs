//! Progress on long work: a bar where somebody watches, nothing where a script does.

use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

/// A bar on standard error. It draws nothing unless that is a terminal.
pub(crate) fn bar(what: &'static str) -> ProgressBar {
    let bar = ProgressBar::new(0).with_message(what);
    if let Ok(style) = ProgressStyle::with_template("{msg} {wide_bar} {pos}/{len} {eta}") {
        bar.set_style(style);
    }
    bar.enable_steady_tick(Duration::from_millis(200));
    bar
}

/// Reports (done, total) to a bar.
pub(crate) fn report(bar: &ProgressBar, done: u64, total: u64) {
    bar.set_length(total);
    bar.set_position(done);
}
