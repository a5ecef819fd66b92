//! `chargehand completions` and `chargehand man`: made from the same definitions as the command line itself.
//!
//! May live here: writing them out. May not: any word of help; that stands at the definitions.

use super::end::End;
use super::line::{Line, ShellWord};
use super::page::say;
use clap::CommandFactory;
use clap_complete::Shell;
use std::path::{Path, PathBuf};

const NAME: &str = "chargehand";

pub(super) fn completions(shell: ShellWord) -> Result<(), End> {
    let shell = match shell {
        ShellWord::Bash => Shell::Bash,
        ShellWord::Zsh => Shell::Zsh,
        ShellWord::Fish => Shell::Fish,
    };
    let mut out = Vec::new();
    clap_complete::generate(shell, &mut Line::command(), NAME, &mut out);
    say(&String::from_utf8_lossy(&out))
}

pub(super) fn man(into: Option<PathBuf>) -> Result<(), End> {
    let Some(folder) = into else { return say(&page(&Line::command())?) };
    let mut command = Line::command();
    command.build();
    write(&folder, NAME, &command)?;
    for verb in command.get_subcommands().filter(|v| v.get_name() != "help") {
        let name: &'static str = format!("{NAME}-{}", verb.get_name()).leak();
        write(&folder, name, &verb.clone().name(name))?;
    }
    Ok(())
}

fn page(command: &clap::Command) -> Result<String, End> {
    let mut out = Vec::new();
    let made = clap_mangen::Man::new(command.clone()).render(&mut out);
    made.map_err(|e| End::Missing(format!("The page cannot be made: {e}.")))?;
    Ok(String::from_utf8_lossy(&out).into_owned())
}

fn write(folder: &Path, name: &str, command: &clap::Command) -> Result<(), End> {
    let path = folder.join(format!("{name}.1"));
    #[allow(clippy::disallowed_methods, reason = "the pages' files")]
    std::fs::write(&path, page(command)?)
        .map_err(|e| End::Missing(format!("{} cannot be written: {e}.", path.display())))
}
