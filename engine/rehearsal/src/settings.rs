//! What a rehearsal is held with. All of it visible; the defaults are common practice, no source.

use crate::complaint::Saying;
use crate::van::Van;
use diagnosis::Assumptions;
use repair::Prices;
use truth::DrawSettings;

/// How calls are drawn, priced, planned and cut off.
#[derive(Clone, Debug)]
pub struct Settings {
    /// How units are drawn; the world is set by the rehearsal's seed.
    pub draw: DrawSettings,
    /// Share of calls in which an unrelated dangerous fault is planted, 0 to 1.
    pub planted: f64,
    /// What customers say.
    pub saying: Saying,
    /// Prices of hands' work: the same for every technician.
    pub prices: Prices,
    /// What the tool and the rivals that weigh a belief take the prices for; `None` for as they are.
    pub believed_prices: Option<Prices>,
    /// What the tool assumes.
    pub assumptions: Assumptions,
    /// Let whoever weighs a belief know the weights as they are in this world, for comparison.
    pub weights_known: bool,
    /// States that the tool may expand for one decision.
    pub nodes: usize,
    /// Steps after which any technician refers the call.
    pub most_steps: usize,
    /// A figure is read off to the nearest step of this share of it (and never finer than the meter's own floor), for
    /// every technician alike; 0 for the exact figure. Coarse reading makes histories alike, which the remembered
    /// decisions live on.
    pub read_off: f64,
    /// The parts on the van; `None` for those that the machine calls stocked. It decides which calls count as completed
    /// from the van, not what is done.
    pub van: Option<Van>,
    /// Remember decisions by history; the results are the same without, only later.
    pub remember: bool,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            draw: DrawSettings::default(),
            planted: 0.1,
            saying: Saying::default(),
            prices: Prices::default(),
            believed_prices: None,
            assumptions: Assumptions::default(),
            weights_known: false,
            nodes: 2_000,
            most_steps: 60,
            read_off: 0.03,
            van: None,
            remember: true,
        }
    }
}
