//! Suspects, likelihoods, belief, and reasons in words.
