//! A bar on stderr for whatever takes over a second, and Ctrl-C between two pieces of work.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

/// A bar over `length` pieces of work. It shows itself only on a terminal.
pub fn bar(length: usize, what: &'static str) -> ProgressBar {
    let bar = ProgressBar::new(length as u64);
    if let Ok(style) = ProgressStyle::with_template("{msg} {wide_bar} {pos}/{len} {eta}") {
        bar.set_style(style);
    }
    bar.set_message(what);
    bar.enable_steady_tick(Duration::from_millis(500));
    bar
}

/// Whether Ctrl-C was pressed. The piece of work under way is finished first; pressed again, the
/// program ends at once, which the book survives too.
#[derive(Debug, Clone, Default)]
pub struct Interrupt(Arc<AtomicBool>);

impl Interrupt {
    /// Starts to listen. Where the system does not let us, Ctrl-C ends the program as usual.
    pub fn listen() -> Self {
        let interrupt = Self::default();
        let pressed = Arc::clone(&interrupt.0);
        let _ = ctrlc::set_handler(move || {
            if pressed.swap(true, Ordering::SeqCst) {
                std::process::exit(130);
            }
        });
        interrupt
    }

    /// Whether it was pressed.
    pub fn pressed(&self) -> bool {
        self.0.load(Ordering::SeqCst)
    }
}
