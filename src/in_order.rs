//! Things are worked on by several threads and taken in order.
//!
//! Each thread gets the next thing, works on it, and then takes whatever lies ready and is next, unless another thread
//! is at that already. So no thread waits for the slowest of a batch, and getting, work and taking go on side by side.
//! There is one line of work and two kinds of threads that go along it: `in_order` is for things at hand, on rayon's threads, which
//! come and go as they have other work; `read_in_order` is for things that are read, on threads of its own.

use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::thread::{Builder, scope};

/// What is made but not yet taken, for each thread, before threads wait for the one that takes.
const AHEAD: usize = 2;

/// Works on items with `work`, on all threads, and hands what came of each to `take`, in the items' order. Neither may call on
/// rayon: a thread that waits there takes up further work, and would come to a lock that it holds itself.
///
/// # Errors
/// The first that `work` or `take` says.
pub(crate) fn in_order<I: Sync, T: Send, E: Send>(
    items: &[I],
    work: impl Fn(&I) -> Result<T, E> + Sync,
    mut take: impl FnMut(T) -> Result<(), E> + Send,
) -> Result<(), E> {
    let threads = rayon::current_num_threads();
    let mut items = items.iter();
    let line = Line::new(threads, || Ok(items.next()), |made: Result<T, E>| take(made?));
    rayon::scope(|scope| {
        for _ in 1..threads {
            scope.spawn(|_| line.work(&work));
        }
        line.work(&work);
    });
    line.finish()
}

/// Reads until `read` gives nothing more, works with `map` on `threads` threads, and gives what was made to `take` in order. A reader
/// would question why these are not rayon's threads: `map` may wait for another pool, as polars' is, and `in_order` says what then happens.
///
/// # Errors
/// The first of `take`; otherwise the first of `read`, once everything before it is taken.
pub(crate) fn read_in_order<B, T: Send, E: Send>(
    threads: usize,
    read: impl FnMut() -> Result<Option<B>, E> + Send,
    map: impl Fn(B) -> T + Sync,
    take: impl FnMut(T) -> Result<(), E> + Send,
) -> Result<(), E> {
    let line = Line::new(threads, read, take);
    scope(|scope| {
        for _ in 1..threads {
            // Where the system has no further thread to give, the others do the work.
            let _ = Builder::new().spawn_scoped(scope, || line.work(&map));
        }
        line.work(&map);
    });
    line.finish()
}

/// What the threads share.
struct Line<R, K, T, E> {
    reader: Mutex<Reader<R, E>>,
    taker: Mutex<Taker<K, E>>,
    /// By number, what is not yet taken.
    made: Mutex<BTreeMap<u64, T>>,
    most: usize,
}

struct Reader<R, E> {
    read: R,
    next: u64,
    /// Set where nothing more is to be read, with the fault if there was one.
    end: Option<Result<(), E>>,
}

struct Taker<K, E> {
    take: K,
    next: u64,
    fault: Option<E>,
}

impl<B, T, E, R: FnMut() -> Result<Option<B>, E>, K: FnMut(T) -> Result<(), E>> Line<R, K, T, E> {
    fn new(threads: usize, read: R, take: K) -> Self {
        let reader = Mutex::new(Reader { read, next: 0, end: None });
        let taker = Mutex::new(Taker { take, next: 0, fault: None });
        Line { reader, taker, made: Mutex::default(), most: threads * AHEAD }
    }

    fn work(&self, map: &impl Fn(B) -> T) {
        loop {
            let next = lock(&self.reader).next();
            let Some((number, block)) = next else { return };
            let made = map(block);
            let waiting = {
                let mut all = lock(&self.made);
                all.insert(number, made);
                all.len()
            };
            if waiting > self.most {
                self.take_ready(lock(&self.taker));
            } else if let Ok(taker) = self.taker.try_lock() {
                self.take_ready(taker);
            }
        }
    }

    /// Takes what is next for as long as it is there. After a fault nothing is taken any more, and nothing read.
    fn take_ready(&self, mut taker: MutexGuard<'_, Taker<K, E>>) {
        loop {
            let Some(made) = lock(&self.made).remove(&taker.next) else { return };
            taker.next += 1;
            if taker.fault.is_none()
                && let Err(fault) = (taker.take)(made)
            {
                taker.fault = Some(fault);
                lock(&self.reader).end.get_or_insert(Ok(()));
            }
        }
    }

    /// Takes what came while another thread was taking, and tells what went wrong.
    fn finish(self) -> Result<(), E> {
        self.take_ready(lock(&self.taker));
        let taker = self.taker.into_inner().unwrap_or_else(PoisonError::into_inner);
        let reader = self.reader.into_inner().unwrap_or_else(PoisonError::into_inner);
        match taker.fault {
            Some(fault) => Err(fault),
            None => reader.end.unwrap_or(Ok(())),
        }
    }
}

impl<B, E, R: FnMut() -> Result<Option<B>, E>> Reader<R, E> {
    /// The next thing and its number; `None` after the last and after a fault.
    fn next(&mut self) -> Option<(u64, B)> {
        if self.end.is_some() {
            return None;
        }
        match (self.read)() {
            Ok(Some(block)) => {
                self.next += 1;
                Some((self.next - 1, block))
            }
            Ok(None) => {
                self.end = Some(Ok(()));
                None
            }
            Err(fault) => {
                self.end = Some(Err(fault));
                None
            }
        }
    }
}

/// A lock is poisoned only by a panic, which ends the run anyway.
fn lock<T>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taken(threads: usize, things: u64, fails: Option<u64>, refused: Option<u64>) -> (Vec<u64>, Result<(), u64>) {
        let mut numbers = 0..things;
        let mut list = Vec::new();
        let told = read_in_order(
            threads,
            || numbers.next().map(|n| if fails == Some(n) { Err(n) } else { Ok(n) }).transpose(),
            |n| {
                // The more a number has zeros at its end, the longer it takes.
                (0..1u64 << n.trailing_zeros().min(12)).for_each(|x| {
                    std::hint::black_box(x);
                });
                n * 2
            },
            |n| {
                list.push(n);
                if refused == Some(n) { Err(n) } else { Ok(()) }
            },
        );
        (list, told)
    }

    #[test]
    fn everything_is_taken_once_and_in_order() {
        for threads in 0..5 {
            let (list, told) = taken(threads, 3000, None, None);
            assert_eq!((list, told), ((0..3000).map(|n| n * 2).collect(), Ok(())));
        }
    }

    #[test]
    fn what_was_read_before_a_fault_is_taken_and_a_refusal_goes_first() {
        for threads in 1..5 {
            let (list, told) = taken(threads, 3000, Some(70), None);
            assert_eq!((list, told), ((0..70).map(|n| n * 2).collect(), Err(70)));
            let (list, told) = taken(threads, 3000, Some(70), Some(60));
            assert_eq!((list, told), ((0..=30).map(|n| n * 2).collect(), Err(60)));
        }
    }

    #[test]
    fn items_come_once_and_in_order_until_something_fails() {
        let items: Vec<u32> = (0..1000).collect();
        let mut taken = Vec::new();
        let take = |twice| {
            taken.push(twice);
            Ok(())
        };
        let done: Result<(), u32> = in_order(&items, |item| Ok(item * 2), take);
        assert_eq!((done, taken), (Ok(()), items.iter().map(|item| item * 2).collect()));
        let stop = |at: u32| move |item: u32| if item == at { Err(item) } else { Ok(()) };
        assert_eq!(in_order(&items, |item| Ok(*item), stop(77)), Err(77));
        assert_eq!(in_order(&items, |item| stop(40)(*item).map(|()| *item), |_| Ok(())), Err(40));
    }
}
