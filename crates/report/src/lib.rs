//! Findings as documents.
//!
//! The JSON document is the stable, versioned form for other programs; its fields are described
//! in `SCHEMA.md` beside this crate. Everything in a document comes from the findings and from
//! what the session says about itself; nothing is computed here.

pub mod json;

pub use json::{SCHEMA, SessionFacts, document};
