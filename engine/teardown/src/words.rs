//! What stands in the way, in words. Decides nothing.

use crate::plan::Blocked;
use machine::access::Access;
use std::fmt;

impl Blocked {
    /// Says it with the names of the machine.
    #[must_use]
    pub fn say(&self, access: &Access) -> String {
        let Self::NoWay { place, missing } = self else { return self.to_string() };
        let place = access.places.get(place.index()).map_or("?", |place| place.id.as_str());
        let names = missing.iter().filter_map(|id| access.steps.get(id.index()));
        let names: Vec<String> = names.map(|cover| format!("`{}`", cover.id)).collect();
        if names.is_empty() {
            format!("no cover exposes `{place}`; name one in its `exposed_by`")
        } else {
            format!("`{place}` cannot be reached: {} cannot come off with what is at hand", names.join(", "))
        }
    }
}

impl fmt::Display for Blocked {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoWay { .. } => f.write_str("a place cannot be reached with what is at hand"),
            Self::UnknownPlace(_) => f.write_str("the machine has no such place; take one of its own"),
            Self::TooMany { covers } => {
                write!(f, "{covers} covers bear on these places, a plan holds 128; ask for fewer places at once")
            }
        }
    }
}

impl std::error::Error for Blocked {}
