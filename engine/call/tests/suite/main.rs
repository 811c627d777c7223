//! The call played through, broken off, taken up again, declined, stopped: on the demo's appliance and by hand.

mod ends;
mod gate;
mod judge;
mod play;
mod resume;
