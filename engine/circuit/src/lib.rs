//! Linear networks: phasor and resistance solutions, low-rank changes, floating islands. Knows no machines.
