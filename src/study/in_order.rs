//! Work handed out to threads in order, one piece at a time.
//!
//! Splitting a range in halves and letting threads steal from each other leaves holes when the work is stopped: what was
//! finished behind a hole is lost. Here a counter hands the pieces out, and a piece that was handed out is finished; so
//! whenever the work stops, what is there is an unbroken beginning, and nothing that was finished is thrown away.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use rayon::ThreadPool;

/// The results of `work` on the pieces 0 to `count`, in order, whichever thread did which. When `stop` turns true, pieces
/// under way are finished and no further one is begun: the list is then shorter.
///
/// # Errors
/// That of the first piece which failed; no further piece is begun after a failure.
pub fn in_order<T: Send, E: Send>(
    pool: &ThreadPool,
    count: usize,
    stop: &AtomicBool,
    work: impl Fn(usize) -> Result<T, E> + Sync,
) -> Result<Vec<T>, E> {
    let (next, failed) = (AtomicUsize::new(0), AtomicBool::new(false));
    let by_thread = pool.broadcast(|_| {
        let mut done = Vec::new();
        while !stop.load(Ordering::Relaxed) && !failed.load(Ordering::Relaxed) {
            let piece = next.fetch_add(1, Ordering::Relaxed);
            if piece >= count {
                break;
            }
            let result = work(piece);
            if result.is_err() {
                failed.store(true, Ordering::Relaxed);
            }
            done.push((piece, result));
        }
        done
    });
    let mut all: Vec<(usize, Result<T, E>)> = by_thread.into_iter().flatten().collect();
    all.sort_by_key(|(piece, _)| *piece);
    all.into_iter().map(|(_, result)| result).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::field::threads;

    /// However many threads there are and however unequal the pieces, what is there after a stop is every piece that was
    /// begun, without a hole.
    #[test]
    fn a_stop_loses_nothing() {
        for count in [1, 2, 3, 7] {
            let pool = threads(Some(count)).expect("threads");
            let (stop, begun) = (AtomicBool::new(false), AtomicUsize::new(0));
            let done = in_order(&pool, 1_000, &stop, |piece| {
                begun.fetch_add(1, Ordering::SeqCst);
                if piece == 400 {
                    stop.store(true, Ordering::SeqCst);
                }
                // Every third piece is a long one.
                let turns = if piece % 3 == 0 { 20_000 } else { 10 };
                let sum = (0..turns).fold(0_u64, |sum, turn| std::hint::black_box(sum + turn));
                Ok::<_, ()>((piece, sum))
            })
            .expect("none fails");
            assert_eq!(done.len(), begun.load(Ordering::SeqCst), "{count} threads");
            assert!(done.len() > 400 && done.len() <= 401 + count, "{} pieces by {count} threads", done.len());
            assert!(done.iter().map(|(piece, _)| *piece).eq(0..done.len()));
        }
    }

    #[test]
    fn the_first_failure_is_told() {
        let (pool, stop) = (threads(Some(3)).expect("threads"), AtomicBool::new(false));
        let told = in_order(&pool, 100, &stop, |piece| if piece >= 40 { Err(piece) } else { Ok(piece) });
        assert_eq!(told, Err(40));
        assert_eq!(in_order(&pool, 0, &stop, |_| Ok::<usize, ()>(1)), Ok(Vec::new()));
    }
}
