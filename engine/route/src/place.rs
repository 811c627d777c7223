//! Where a call is, and how long it is to drive there without a map.

/// A place on the earth, degrees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// North of the equator.
    pub latitude: f64,
    /// East of Greenwich.
    pub longitude: f64,
}

/// Mean radius of the earth, metres. SOURCE: IUGG, R1 = 6371.0088 km, from memory.
const RADIUS: f64 = 6_371_008.8;
/// How much longer a road is than the straight line. Common practice, no source.
const DETOUR: f64 = 1.3;
/// Minutes of parking, walking and unloading at the end of every drive. Common practice, no source.
const PARKING: f64 = 3.0;

impl Point {
    /// Takes degrees; `None` where they are none.
    #[must_use]
    pub fn new(latitude: f64, longitude: f64) -> Option<Self> {
        ((-90.0..=90.0).contains(&latitude) && (-180.0..=180.0).contains(&longitude))
            .then_some(Self { latitude, longitude })
    }

    /// Gives the straight way along the earth, metres. SOURCE: the haversine formula.
    #[must_use]
    pub fn metres_to(self, other: Self) -> f64 {
        let half = |one: f64, other: f64| {
            let sine = libm::sin((one - other).to_radians() / 2.0);
            sine * sine
        };
        let north = half(self.latitude, other.latitude);
        let east = half(self.longitude, other.longitude);
        let across = libm::cos(self.latitude.to_radians()) * libm::cos(other.latitude.to_radians());
        2.0 * RADIUS * libm::asin((north + across * east).clamp(0.0, 1.0).sqrt())
    }
}

/// Gives the minutes of a drive at this speed, metres a second: the straight way times a factor, and parking.
#[must_use]
pub fn minutes_between(one: Point, other: Point, speed: f64) -> f64 {
    let metres = one.metres_to(other);
    if metres < 1.0 { 0.0 } else { metres * DETOUR / speed.max(0.1) / 60.0 + PARKING }
}
