//! `chargehand people` and `chargehand token`: who may do what.
//!
//! May live here: asking for PINs, sending, showing. May not: who may; the daemon says so.

use super::end::End;
use super::page::{cut, fold, json, say, table};
use super::people_line::{PeopleVerb, TokenVerb};
use super::person;
use crate::client::Api;
use crate::{outside, words};
use chargehand_types::id::Person;
use chargehand_types::people::{
    ChangePeople, Credential, MakeToken, PeopleChange, PeopleList, PersonRow, Refused, RevokeToken, TokenRow,
};
use chargehand_types::secret::Secret;
use chargehand_types::stage::Role;

pub(super) async fn people(api: &Api, verb: PeopleVerb) -> Result<(), End> {
    let (change, by) = match verb {
        PeopleVerb::List { json: true } => return json(&api.people().await?),
        PeopleVerb::List { json: false } => return say(&list(&api.people().await?)),
        PeopleVerb::Refusals { json: true } => return json(&api.refusals().await?),
        PeopleVerb::Refusals { json: false } => return say(&refusals(&api.refusals().await?.refusals)),
        PeopleVerb::Add { name, role, no_pin, by } => {
            let by = asker(api, by).await?;
            let pin = if no_pin { None } else { Some(new_pin(&name)?) };
            (PeopleChange::Add { who: Person(name), role: role.role(), pin }, by)
        }
        PeopleVerb::Pin { name, by } => {
            let by = asker(api, by).await?;
            let pin = new_pin(&name)?;
            (PeopleChange::SetPin { who: Person(name), pin }, by)
        }
        PeopleVerb::Remove { name, by } => (PeopleChange::Remove { who: Person(name) }, asker(api, by).await?),
    };
    say(&fold("", &api.change_people(&ChangePeople { by, change }).await?.said, 0))
}

pub(super) async fn token(api: &Api, verb: TokenVerb) -> Result<(), End> {
    match verb {
        TokenVerb::List { json: true } => json(&api.tokens().await?),
        TokenVerb::List { json: false } => say(&tokens(&api.tokens().await?.tokens)),
        TokenVerb::Add { name, role, expires, by } => {
            let by = asker(api, by).await?;
            let made = api.make_token(&MakeToken { by, name, role: role.role(), expires: expires.0 }).await?;
            // the token alone on stdout, so that it can go into a file
            eprint!("{}", fold("", &made.said, 0));
            say(&format!("{}\n", made.token.shown()))
        }
        TokenVerb::Revoke { name, by } => {
            let by = asker(api, by).await?;
            say(&fold("", &api.revoke_token(&name, &RevokeToken { by }).await?.said, 0))
        }
    }
}

/// Who does it, with their PIN, where the shop uses them.
async fn asker(api: &Api, by: Option<String>) -> Result<Option<Credential>, End> {
    let known = api.people().await?;
    if !known.pins {
        return Ok(None);
    }
    let who = by
        .map(Person)
        .or_else(|| only_owner(&known))
        .ok_or_else(|| End::WrongUse("More than one owner has a PIN: say who you are, with --as NAME.".to_owned()))?;
    let pin = person::pin_of(&who)?;
    Ok(Some(Credential { who, pin }))
}

fn only_owner(known: &PeopleList) -> Option<Person> {
    let mut owners = known.people.iter().filter(|p| p.role == Role::Owner && p.pin);
    owners.next().filter(|_| owners.next().is_none()).map(|p| p.who.clone())
}

/// A PIN that is to be set, typed twice where a person types it.
fn new_pin(name: &str) -> Result<Secret, End> {
    let pin = person::secret(&format!("A PIN for {name}, 4 to 12 digits: "))?;
    if outside::is_somebody_there() && person::secret("Once more: ")? != pin {
        return Err(End::WrongUse("The two are not the same. Nothing was set.".to_owned()));
    }
    Ok(pin)
}

fn list(known: &PeopleList) -> String {
    let mut rows = vec![["who", "role", "PIN", "named in", ""].map(str::to_owned).to_vec()];
    rows.extend(known.people.iter().map(row));
    let end = if known.pins {
        "Signing in asks for a PIN.\n"
    } else {
        "Nobody has a PIN: signing in asks for none. An owner's comes first: chargehand people pin NAME\n"
    };
    table(&rows) + end
}

fn row(p: &PersonRow) -> Vec<String> {
    let pin = if p.pin { "set" } else { "none" };
    let place = if p.in_config { "daemon.toml" } else { "people add" };
    let more = match (p.locked_for, p.wrong) {
        (Some(left), _) => format!("locked out for {}", words::span(left)),
        (None, 0) => String::new(),
        (None, wrong) => format!("{wrong} wrong"),
    };
    vec![cut(&p.who.0, 30), words::role(p.role).to_owned(), pin.to_owned(), place.to_owned(), more]
}

fn tokens(tokens: &[TokenRow]) -> String {
    if tokens.is_empty() {
        return "No token yet. Make one with: chargehand token add NAME --role helper --expires WHEN\n".to_owned();
    }
    let mut rows = vec![["token", "role", "made", "counts until"].map(str::to_owned).to_vec()];
    for t in tokens {
        let end = if t.expired { "over" } else { "" };
        let until = format!("{} {end}", outside::local_minute(t.expires));
        let made = outside::local_minute(t.made);
        rows.push(vec![cut(&t.name, 30), words::role(t.role).to_owned(), made, until.trim().to_owned()]);
    }
    table(&rows)
}

fn refusals(refusals: &[Refused]) -> String {
    if refusals.is_empty() {
        return "Nothing was refused.\n".to_owned();
    }
    let one = |r: &Refused| {
        let head = format!("{}  {}: ", outside::local_minute(r.at), r.kind.word());
        let who = r.who.as_deref().map_or_else(String::new, |w| format!("{w}, "));
        let more = if r.left_out > 0 { format!(" ({} more before it not written)", r.left_out) } else { String::new() };
        fold(&head, &format!("{}; {who}from {}{more}", r.asked, r.from), 2)
    };
    refusals.iter().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use chargehand_types::people::RefusalKind;
    use chargehand_types::quantity::Seconds;

    fn somebody(who: &str, role: Role, pin: bool) -> PersonRow {
        PersonRow { who: who.into(), role, in_config: true, pin, wrong: 0, locked_for: None }
    }

    #[test]
    fn the_only_owner_with_a_pin_is_meant() {
        let mut people = vec![somebody("Ada", Role::Owner, true), somebody("Bo", Role::Helper, true)];
        let of = |people: &[PersonRow]| only_owner(&PeopleList { schema: 1, pins: true, people: people.to_vec() });
        assert_eq!(of(&people), Some("Ada".into()));
        people.push(somebody("Cleo", Role::Owner, false));
        assert_eq!(of(&people), Some("Ada".into()));
        people.push(somebody("Dag", Role::Owner, true));
        assert_eq!(of(&people), None);
    }

    #[test]
    fn a_list_says_who_is_locked_out() {
        let locked = PersonRow { locked_for: Some(Seconds::of(120.0)), wrong: 5, ..somebody("Bo", Role::Helper, true) };
        let text = list(&PeopleList { schema: 1, pins: true, people: vec![locked] });
        assert!(text.contains("locked out for 2 min") && text.contains("asks for a PIN"), "{text}");
    }

    #[test]
    fn a_refusal_is_one_entry() {
        let refused = Refused {
            at: "2026-11-29T10:00:00Z".parse().unwrap(),
            kind: RefusalKind::FromAfar,
            who: Some("phone".into()),
            from: "192.0.2.7".into(),
            asked: "cycle-start".into(),
            left_out: 4,
        };
        let text = refusals(&[refused]).replace("\n  ", " ");
        assert!(text.contains("not at the machine: cycle-start; phone, from 192.0.2.7 (4 more"), "{text}");
    }
}
