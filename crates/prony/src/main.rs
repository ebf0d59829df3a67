//! The program. Everything it does is in the library beside it, so that tests can do it too.

use std::process::ExitCode;

fn main() -> ExitCode {
    prony::main()
}
