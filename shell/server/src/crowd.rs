//! How many questions of one address are under way: nobody may take every place there is by asking slowly.

use std::collections::BTreeMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};

/// The addresses with questions under way.
#[derive(Clone, Debug)]
pub(crate) struct Crowd {
    most: usize,
    inside: Arc<Mutex<BTreeMap<IpAddr, usize>>>,
}

/// A question under way; it leaves when this is dropped.
#[derive(Debug)]
pub(crate) struct Inside {
    address: IpAddr,
    inside: Arc<Mutex<BTreeMap<IpAddr, usize>>>,
}

impl Crowd {
    pub(crate) fn new(most: usize) -> Self {
        Self { most, inside: Arc::default() }
    }

    /// Lets one more question of an address in; `None` if it has as many as it may.
    pub(crate) fn enter(&self, address: IpAddr) -> Option<Inside> {
        let mut inside = self.inside.lock().unwrap_or_else(PoisonError::into_inner);
        let count = inside.entry(address).or_default();
        if *count >= self.most {
            return None;
        }
        *count += 1;
        Some(Inside { address, inside: self.inside.clone() })
    }
}

impl Drop for Inside {
    fn drop(&mut self) {
        let mut inside = self.inside.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(count) = inside.get_mut(&self.address) {
            *count -= 1;
            if *count == 0 {
                inside.remove(&self.address);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_address_takes_no_more_than_its_places_and_leaves_nothing_behind() {
        let crowd = Crowd::new(2);
        let (one, other) = (IpAddr::from([192, 0, 2, 1]), IpAddr::from([192, 0, 2, 2]));
        let first = crowd.enter(one);
        let second = crowd.enter(one);
        assert!(first.is_some() && second.is_some() && crowd.enter(one).is_none());
        assert!(crowd.enter(other).is_some());
        drop(first);
        let third = crowd.enter(one);
        assert!(third.is_some() && crowd.enter(one).is_none());
        drop((second, third));
        assert!(crowd.inside.lock().is_ok_and(|inside| inside.is_empty()));
    }
}
