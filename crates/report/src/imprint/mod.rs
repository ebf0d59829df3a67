//! What only the tester can say of a test: who tested, for whom, which unit, what was done otherwise
//! than planned, who answers for the report.
//!
//! ISO/IEC 17025:2017 asks for it (7.8.2.1, 7.8.3, 7.8.8), and no recording holds it. An imprint is a
//! RON file that `IMPRINT.md` beside this crate describes; what it leaves out is printed as *not
//! stated*, and nothing is guessed.

mod file;
mod photo;
mod stated;

pub use file::ImprintError;
pub(crate) use file::stands_in_corner;
pub use photo::Photo;
pub use stated::{Imprint, Item, Tester};
