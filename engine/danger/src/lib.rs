//! What may be live, and the gate that every step passes.
