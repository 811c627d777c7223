//! What a machine does and what a meter shows on it, sound or faulted.
