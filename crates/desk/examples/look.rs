//! Shows the desk over invented data, so that it can be looked at without the rest of the program.
fn main() {}
