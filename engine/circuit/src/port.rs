//! What a meter of any kind sees between two nodes, and the arithmetic of laying it there.
//!
//! Refuses to know a meter's ranges, accuracy, digits or test current.

use num_complex::Complex64;

/// Is what lies behind two nodes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Port {
    /// The two nodes are tied by conductive paths: a source behind an impedance, exactly.
    Tied {
        /// `v_a - v_b` with nothing connected, in volts.
        open_volts: Complex64,
        /// What is seen looking in with every source at zero, in ohms.
        source_impedance: Complex64,
    },
    /// No conductive path ties the two nodes: only an upper bound can be stated.
    Floating {
        /// Most that can stand between the two nodes if either island, directly or through further islands, is
        /// held by stray coupling to any of their nodes, in volts.
        ///
        /// It is the sum of: the largest `|v - v_a|` in the island of `a`; the largest `|v - v_b|` in the
        /// island of `b`; and for each other island the diagonal of the box round its phasors, which is the
        /// largest difference in it where they lie on one line and at most 1.42 times that otherwise.
        highest_volts: f64,
    },
}

/// Is the voltage that a meter has across it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum VoltsRead {
    /// The phasor across the meter.
    Value(Complex64),
    /// Nothing ties the two nodes: any magnitude from zero to this, in volts.
    UpTo(f64),
}

/// Is what an ohm-meter is given to read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum OhmsRead {
    /// Resistance in ohms: the real part.
    Ohms(f64),
    /// Above the meter's limit, or not connected at all.
    OverRange,
    /// A voltage stands on the two nodes, which falsifies any reading: its magnitude.
    Live {
        /// The magnitude in volts.
        volts: f64,
    },
}

/// Volts on a port above which an ohm-meter's reading means nothing.
const DEAD_VOLTS: f64 = 1e-3;

/// Gives the magnitude of a phasor: a plain square root, the same natively and in the browser.
#[must_use]
pub fn magnitude(phasor: Complex64) -> f64 {
    phasor.norm_sqr().sqrt()
}

/// Divides a port's voltage between its source impedance and the meter's own.
///
/// An infinite `meter_impedance` stands for a meter that takes no current.
#[must_use]
pub fn volts_read(port: &Port, meter_impedance: Complex64) -> VoltsRead {
    match *port {
        Port::Floating { highest_volts } => VoltsRead::UpTo(highest_volts),
        Port::Tied { open_volts, .. } if !meter_impedance.is_finite() => VoltsRead::Value(open_volts),
        Port::Tied { open_volts, source_impedance } => {
            VoltsRead::Value(open_volts * (meter_impedance / (meter_impedance + source_impedance)))
        }
    }
}

/// Reads the resistance of a port of a network whose sources are at zero.
///
/// `open_limit` is the most the meter shows, in ohms.
#[must_use]
pub fn ohms_read(port: &Port, open_limit: f64) -> OhmsRead {
    match *port {
        Port::Floating { highest_volts } if highest_volts > DEAD_VOLTS => OhmsRead::Live { volts: highest_volts },
        Port::Floating { .. } => OhmsRead::OverRange,
        Port::Tied { open_volts, source_impedance } => {
            let volts = magnitude(open_volts);
            if volts > DEAD_VOLTS {
                OhmsRead::Live { volts }
            } else if source_impedance.re > open_limit {
                OhmsRead::OverRange
            } else {
                OhmsRead::Ohms(source_impedance.re)
            }
        }
    }
}

/// Bounds the voltage between two nodes of different islands; see [`Port::Floating`].
///
/// `islands` labels each node by its island's lowest node, `potentials` are counted from that node.
pub(crate) fn highest_volts(islands: &[usize], potentials: &[Complex64], a: usize, b: usize) -> f64 {
    let (Some(&of_a), Some(&of_b)) = (islands.get(a), islands.get(b)) else { return 0.0 };
    let mut boxes: Vec<Option<(Complex64, Complex64)>> = vec![None; islands.len()];
    let (mut near_a, mut near_b) = (0.0, 0.0);
    for (&label, &p) in islands.iter().zip(potentials) {
        if label == of_a {
            near_a = f64::max(near_a, magnitude(p - potentials[a]));
        } else if label == of_b {
            near_b = f64::max(near_b, magnitude(p - potentials[b]));
        } else {
            let (low, high) = boxes[label].get_or_insert((p, p));
            *low = Complex64::new(low.re.min(p.re), low.im.min(p.im));
            *high = Complex64::new(high.re.max(p.re), high.im.max(p.im));
        }
    }
    near_a + near_b + boxes.into_iter().flatten().map(|(low, high)| magnitude(high - low)).sum::<f64>()
}
