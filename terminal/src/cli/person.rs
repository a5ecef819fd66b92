//! The person at the command line: who they say they are, and what they say when they are asked.
//!
//! May live here: signing in by name, a question on the tty. May not: answering in a person's stead.

use super::end::End;
use crate::client::Api;
use crate::outside;
use chargehand_types::act::Act;
use chargehand_types::id::Person;
use chargehand_types::secret::Secret;
use std::io::{BufRead, IsTerminal, Write};

/// Signs in whoever was named; nobody when none was.
pub(super) async fn sign_in(api: &Api, who: Option<String>) -> Result<(), End> {
    if let Some(who) = who {
        let (who, now) = (Person(who), api.now().await?);
        let pin = if now.pins { Some(pin_of(&who)?) } else { None };
        api.act(Act::SignIn { who, pin }, Some(now.version)).await?;
    }
    Ok(())
}

/// Asks for somebody's PIN.
///
/// # Errors
/// When nobody types one.
pub(super) fn pin_of(who: &Person) -> Result<Secret, End> {
    secret(&format!("PIN of {who}: "))
}

/// Asks for a secret; what is typed is not shown. Without a terminal it is a line of stdin.
///
/// # Errors
/// When nobody types one.
pub(super) fn secret(question: &str) -> Result<Secret, End> {
    match outside::secret_line(question) {
        Ok(Some(typed)) if !typed.is_empty() => Ok(Secret::new(typed)),
        Ok(_) => Err(End::Refused("No PIN was typed; nothing was done.".to_owned())),
        Err(e) => Err(End::Missing(format!("The PIN cannot be read: {e}."))),
    }
}

/// Asks a question that only a person can answer.
///
/// # Errors
/// When nobody is there to be asked; `otherwise` says what to type instead.
pub(super) fn asked(question: &str, otherwise: &str) -> Result<bool, End> {
    if !std::io::stdin().is_terminal() || !std::io::stderr().is_terminal() {
        return Err(End::Refused(format!("{question}\nNobody is here to be asked: {otherwise}")));
    }
    for _ in 0..3 {
        eprint!("{question} [yes/no] ");
        let _ = std::io::stderr().flush();
        let mut answer = String::new();
        if std::io::stdin().lock().read_line(&mut answer).unwrap_or(0) == 0 {
            break;
        }
        match answer.trim().to_lowercase().as_str() {
            "yes" | "y" => return Ok(true),
            "no" | "n" => return Ok(false),
            _ => eprintln!("Answer yes or no."),
        }
    }
    Err(End::Refused("No answer was given; nothing was done.".to_owned()))
}
