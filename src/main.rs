//! Start and exit code; everything else is in the library.

fn main() -> std::process::ExitCode {
    dooryard::cli::main().into()
}
