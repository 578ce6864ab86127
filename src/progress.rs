//! Progress for the person waiting: a bar on a terminal, plain lines otherwise, nothing when quiet. Always stderr.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::IsTerminal;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Where progress goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mode {
    /// A bar or plain lines, as stderr allows.
    Shown,
    /// Nothing.
    Quiet,
}

/// Tells how far a job is.
#[derive(Debug)]
pub struct Progress {
    mode: Mode,
    terminal: bool,
    started: std::time::Instant,
    placed: Arc<AtomicBool>,
}

impl Progress {
    /// Progress on stderr.
    pub fn new(mode: Mode) -> Progress {
        let (terminal, started) = (std::io::stderr().is_terminal(), std::time::Instant::now());
        Progress { mode, terminal, started, placed: Arc::default() }
    }

    /// Whether the output stands in its place, for whoever ends the run from outside: until then nothing was written.
    pub fn placed(&self) -> Arc<AtomicBool> {
        Arc::clone(&self.placed)
    }

    /// The output stands in its place.
    pub(crate) fn place(&self) {
        self.placed.store(true, Ordering::SeqCst);
    }

    /// One line about a step that starts, with the seconds since the job began.
    pub fn step(&self, text: &str) {
        if self.mode == Mode::Shown {
            // Nobody can be told that stderr is closed.
            let _ = std::io::Write::write_fmt(
                &mut std::io::stderr(),
                format_args!("{:6.1} s  {text}\n", self.started.elapsed().as_secs_f64()),
            );
        }
    }

    /// A bar over bytes; hidden when quiet or not on a terminal.
    pub fn bytes(&self, total: u64) -> ProgressBar {
        if self.mode == Mode::Quiet || !self.terminal {
            return ProgressBar::with_draw_target(Some(total), ProgressDrawTarget::hidden());
        }
        let style = ProgressStyle::with_template("{bar:40} {bytes} of {total_bytes}, {eta} left");
        ProgressBar::new(total).with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()))
    }
}
