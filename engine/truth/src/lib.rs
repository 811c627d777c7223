//! A unit with a hidden fault, solved afresh and apart from the reasoner.
