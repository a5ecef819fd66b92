//! The program `chargehand`: the terminal at the machine and the command line.

fn main() -> std::process::ExitCode {
    chargehand_terminal::cli::main()
}
