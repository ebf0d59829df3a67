//! The shelf: a folder of sessions, and what is known about each without opening it.
//!
//! * [`ShelfItem`] is one session of the list; [`Query`] and [`sort`] find and order items.
//! * [`ShelfIndex`] remembers the items from one start to the next, so that a list of a thousand
//!   sessions is there at once. It holds no truth: a file that changed is read again, and an index
//!   that is gone or damaged is made anew from the files.
//! * [`Remark`] is a note or a tag; [`add_remark`] adds one to a closed session, in a block of its
//!   own, and changes nothing that was recorded.
//!
//! What is absent, on purpose: a clock, and any judgement. Verdict and thumbnail are handed in by
//! the program, which can compute them, and kept until the file changes.

mod index;
mod item;
mod query;
mod remark;

pub use index::ShelfIndex;
pub use item::{ItemState, Judgement, SILENT_AFTER_NS, ShelfItem, Thumbnail};
pub use query::{Direction, Query, SortBy, found, sort};
pub use remark::{NOTE, Note, Remark, TAG, UNTAG, add_remark};
