//! Work on all threads, taken in order: while some items are taken, the next few are worked on.
//!
//! `intake/in_order.rs` does the like for what a reader gives, on threads of its own. That one cannot serve here: these calls
//! come from within rayon's threads, several side by side (tables, lists and Parquet files are written at once), so each would
//! bring as many threads again, and those of the pool that wait for them would be lost to it; with one thread (`--threads 1`)
//! work that itself goes parallel would then wait for ever. This one cannot serve there: it takes a batch of an item a
//! thread, and a thread of rayon that waits for another pool within reading or taking may come to a lock that it holds.

use rayon::prelude::*;

/// Works on items a few at a time, on all threads, and hands what came of each to `take`, in the items' order. Never is more
/// in memory than those few.
///
/// # Errors
/// The first that `work` or `take` says.
pub fn in_order<I: Sync, T: Send, E: Send>(
    items: &[I],
    work: impl Fn(&I) -> Result<T, E> + Sync,
    mut take: impl FnMut(T) -> Result<(), E> + Send,
) -> Result<(), E> {
    let mut made: Vec<T> = Vec::new();
    for ahead in items.chunks(rayon::current_num_threads().max(1)).chain(std::iter::once(&[][..])) {
        let hand = || made.into_iter().try_for_each(&mut take);
        let (next, handed): (Result<Vec<T>, E>, _) = rayon::join(|| ahead.par_iter().map(&work).collect(), hand);
        handed?;
        made = next?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn everything_comes_once_in_order_until_something_fails() {
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
