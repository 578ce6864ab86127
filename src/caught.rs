//! Work of libraries that stop the program on some damaged files: here that is only a bad file, told as one.
//!
//! A panic is a bug of whoever has it, so it is caught around such work alone, thread by thread; and since the file is then told in
//! plain words, the panic's own words and its stack are not printed.

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind};

thread_local! {
    /// How many such pieces of work this thread is in.
    static INSIDE: Cell<u32> = const { Cell::new(0) };
}

/// Does a piece of work on this thread; `None` if it stopped.
pub(crate) fn caught<T>(work: impl FnOnce() -> T) -> Option<T> {
    INSIDE.set(INSIDE.get().saturating_add(1));
    let came = catch_unwind(AssertUnwindSafe(work)).ok();
    INSIDE.set(INSIDE.get().saturating_sub(1));
    came
}

/// From here on, panics that are caught print nothing; all others do as before. For the program, once at its start.
pub fn quieten() {
    let usual = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |told| {
        if INSIDE.get() == 0 {
            usual(told);
        }
    }));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn work_that_stops_gives_nothing_and_the_next_goes_on() {
        assert_eq!(caught(|| 1), Some(1));
        let none: Vec<u8> = Vec::new();
        assert_eq!(caught(|| caught(|| none[INSIDE.get() as usize])), Some(None));
        assert_eq!(INSIDE.get(), 0);
    }
}
