//! Plans of access: the least way to a set of places, and the way back. Knows no probabilities.
