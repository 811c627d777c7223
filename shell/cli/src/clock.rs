//! The clock on the wall, with its zone: the one place that looks at it.

use crate::failure::Failure;
use book::ZonedTime;

/// Gives the time on the wall here.
pub(crate) fn now() -> Result<ZonedTime, Failure> {
    let now = jiff::ZonedDateTime::now().round(jiff::Unit::Second);
    let now = now.map_err(|error| Failure::SetUp(error.to_string()))?;
    now.to_string().parse().map_err(|error: book::BadTime| Failure::SetUp(error.to_string()))
}
