//! Which devices wrote a call, and whether two of them did so without knowing of each other.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::event::{Body, Event};
use crate::facts::job::JobFact;
use crate::ids::DeviceId;

/// The devices that wrote the visits of a job, each with its last counter there.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Writers(BTreeMap<DeviceId, u64>);

impl Writers {
    /// Takes the next event in the order of the book; tells whether it was written without knowing what another device had
    /// written of the job's visits before it. What is no part of a visit does not count.
    pub fn take(&mut self, event: &Event) -> bool {
        let of_visit = matches!(event.body(), Body::Call { .. } | Body::Job { fact: JobFact::CallOpened(_), .. });
        if !of_visit {
            return false;
        }
        let own = event.id().device();
        let apart = self.0.iter().any(|(device, counter)| *device != own && event.seen().of(*device) < *counter);
        self.0.insert(own, event.id().counter());
        apart
    }
}
