//! A few stores open on one book, each used by one question at a time.

use book::StoreError;
use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};
use store::{Database, SqlStore};
use tokio::sync::Semaphore;

type Open<D> = dyn Fn() -> Result<SqlStore<D>, StoreError> + Send + Sync;

/// The stores that are open and free.
pub(crate) struct Pool<D> {
    open: Box<Open<D>>,
    free: Mutex<Vec<SqlStore<D>>>,
    turns: Arc<Semaphore>,
}

impl<D> fmt::Debug for Pool<D> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Pool")
    }
}

impl<D: Database + Send + 'static> Pool<D> {
    pub(crate) fn new(most: usize, open: Box<Open<D>>) -> Self {
        Self { open, free: Mutex::new(Vec::new()), turns: Arc::new(Semaphore::new(most)) }
    }

    /// Works with a store on a thread that may wait, once one is free. A store that failed is not used again: its
    /// connection may be gone.
    pub(crate) async fn with<T: Send + 'static>(
        self: &Arc<Self>,
        work: impl FnOnce(&mut SqlStore<D>) -> T + Send + 'static,
        is_sound: impl FnOnce(&T) -> bool + Send + 'static,
    ) -> Result<T, StoreError> {
        let gone = || StoreError::Failed("the server is stopping".to_owned());
        let turn = self.turns.clone().acquire_owned().await.map_err(|_| gone())?;
        let pool = self.clone();
        let worked = tokio::task::spawn_blocking(move || {
            let _turn = turn;
            let free = pool.free.lock().unwrap_or_else(PoisonError::into_inner).pop();
            let mut store = free.map_or_else(|| (pool.open)(), Ok)?;
            let made = work(&mut store);
            if is_sound(&made) {
                pool.free.lock().unwrap_or_else(PoisonError::into_inner).push(store);
            }
            Ok(made)
        });
        worked.await.map_err(|_| gone())?
    }
}
