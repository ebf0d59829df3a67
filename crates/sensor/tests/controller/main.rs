//! The conversation with a trainer's control point, as scripts and as properties.
//!
//! The bytes are those of Fitness Machine Service 1.0, section 4.16 (control point), and 1.0.1,
//! table 4.26 (status); the answers of careless trainers are those that bluetooth.md §10 lists.

mod properties;
mod scenarios;
mod talk;
