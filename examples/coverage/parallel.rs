//! Many jobs on a few threads.

/// Runs `job` for each of the numbers below `count` on some threads; results in order.
pub fn in_parallel<T: Send>(count: u64, threads: usize, job: impl Fn(u64) -> T + Sync) -> Vec<T> {
    let threads = threads.max(1) as u64;
    let mut parts: Vec<(u64, T)> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..threads)
            .map(|worker| {
                let job = &job;
                scope.spawn(move || {
                    (worker..count)
                        .step_by(threads as usize)
                        .map(|i| (i, job(i)))
                        .collect::<Vec<_>>()
                })
            })
            .collect();
        workers
            .into_iter()
            .flat_map(|w| {
                w.join()
                    .unwrap_or_else(|panic| std::panic::resume_unwind(panic))
            })
            .collect()
    });
    parts.sort_by_key(|(i, _)| *i);
    parts.into_iter().map(|(_, result)| result).collect()
}
