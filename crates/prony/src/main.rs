//! prony
fn main() {}
