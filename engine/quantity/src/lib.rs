//! Ohms, volts, seconds and money; reading what a person typed; published tables and formulas.
