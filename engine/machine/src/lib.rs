//! The machine description: text to diagnostics and a typed model.
