//! The program `chargehand`: the terminal at the machine and the command line.

/// Years of history are many small pieces.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> std::process::ExitCode {
    chargehand_terminal::cli::main()
}
