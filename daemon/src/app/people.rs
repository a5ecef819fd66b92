//! People, tokens and refusals, asked over the API: who may ask, what is answered, what is written down.
//!
//! May live here: the gate's answers, the words of a refusal. May not: the files (see [`super::keeper`]).

use super::desk::{FrontDesk, gone};
use super::foreman::Errand;
use super::keeper::{Keeper, NoHolder, NotProved, PinNotSet};
use crate::api::desk::{Answer, Caller};
use crate::api::gate::{Gate, Guest, Turned};
use crate::ledger::Draft;
use crate::people::BookFault;
use crate::shop::config::Api;
use chargehand_types::SCHEMA;
use chargehand_types::event::{Actor, RightsChange, What};
use chargehand_types::id::{CommandId, Person};
use chargehand_types::people::{
    ChangePeople, Credential, MakeToken, PeopleChange, PeopleChanged, PeopleList, RefusalKind, RefusalList,
    RevokeToken, TokenList, TokenMade,
};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::Seconds;
use chargehand_types::queue::{Done, Look};
use chargehand_types::secret::Secret;
use chargehand_types::stage::Role;
use chrono::{DateTime, Utc};
use std::net::IpAddr;
use tokio::sync::oneshot;

/// Whether a connection is one of those declared at the machine: its user, the terminal's token, and no login over a
/// network as far as that can be told. Over TCP nothing is.
pub(super) fn at_the_machine(api: &Api, caller: &Caller) -> bool {
    declared(api, caller) && caller.remote.is_none()
}

/// The user and the token alone.
fn declared(api: &Api, caller: &Caller) -> bool {
    let user = match (caller.peer_uid, &api.terminal_uids) {
        (Some(uid), Some(uids)) => uids.contains(&uid),
        (Some(uid), None) => uid == rustix::process::geteuid().as_raw(),
        (None, _) => false,
    };
    user && caller.token_ok && caller.guest.is_none()
}

/// From where somebody asks, for the record.
pub(super) fn whence(caller: &Caller) -> String {
    match (&caller.guest, caller.peer_uid, &caller.remote) {
        (Some(guest), _, _) => guest.address.to_string(),
        (None, Some(uid), Some(remote)) => format!("user {uid} of this computer; {remote}"),
        (None, Some(uid), None) => format!("user {uid} of this computer"),
        (None, None, _) => "this computer".to_owned(),
    }
}

fn no(text: impl Into<String>) -> Problem {
    Problem::new(ProblemKind::NotPermitted, text)
}

fn bad(text: impl Into<String>) -> Problem {
    Problem::new(ProblemKind::BadRequest, text)
}

/// As it is told to whoever typed the PIN; with what kind of refusal it is.
fn told(who: &Person, why: &NotProved, rate: f64) -> (RefusalKind, String) {
    // machine time passes faster in practice
    let wait = |s: Seconds| super::wording::span(Seconds::of(s.value() / rate));
    match why {
        NotProved::Missing => (RefusalKind::WrongPin, "Signing in needs a PIN here.".to_owned()),
        NotProved::Unset => {
            let text = format!("{who} has no PIN yet. An owner sets it: chargehand people pin \"{who}\".");
            (RefusalKind::WrongPin, text)
        }
        NotProved::Wrong(None) => (RefusalKind::WrongPin, "That PIN is not right.".to_owned()),
        NotProved::Wrong(Some(s)) => {
            let text = format!("That PIN is not right. No PIN of {who} is looked at for {} now.", wait(*s));
            (RefusalKind::WrongPin, text)
        }
        NotProved::Locked(s) => {
            let text = format!("Too many PINs were wrong: none of {who} is looked at for {} yet.", wait(*s));
            (RefusalKind::LockedOut, text)
        }
        // what was typed for a name may be a PIN: it is not repeated
        NotProved::Stranger => (RefusalKind::Stranger, "There is nobody of that name in this shop.".to_owned()),
    }
}

fn not_changed(fault: BookFault) -> Problem {
    let kind = match fault {
        BookFault::Nobody(_) | BookFault::NoToken(_) => ProblemKind::NotFound,
        BookFault::Text(_) => ProblemKind::MissingOrBusy,
        BookFault::OwnerFirst | BookFault::LastOwner => ProblemKind::NotNow,
        BookFault::There(_) | BookFault::Name | BookFault::TooMany(_) | BookFault::Over => ProblemKind::BadRequest,
    };
    let text = fault.to_string();
    let mut letters = text.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    Problem::new(kind, format!("{first}{}.", letters.as_str()))
}

fn not_set(fault: PinNotSet) -> Problem {
    match fault {
        PinNotSet::Book(fault) => not_changed(fault),
        PinNotSet::Pin(fault) => bad(format!("That is not set: {fault}.")),
    }
}

impl FrontDesk {
    /// What the wall clock shows.
    pub(super) fn wall(&self) -> DateTime<Utc> {
        #[allow(clippy::disallowed_methods, reason = "certificates and tokens end by the wall clock")]
        Utc::now()
    }

    pub(super) fn network_look(&self) -> Option<Look> {
        let now = self.wall();
        let tokens = self.keeper().book(|b| b.token_rows(now).iter().filter(|t| !t.expired).count());
        super::network::look(&self.premises, self.shared.network_trouble.get(), tokens, now)
    }

    fn keeper(&self) -> &Keeper {
        &self.shared.keeper
    }

    /// Whose PIN came with a sign-in, where the shop uses them. From afar no PIN is looked at.
    pub(super) async fn proved(&self, caller: &Caller, who: &Person, pin: Option<&Secret>) -> Answer<Option<Person>> {
        if !self.keeper().pins() || !at_the_machine(&self.premises.config.api, caller) {
            return Ok(None);
        }
        self.prove(caller, who, pin, "sign-in").await?;
        Ok(Some(who.clone()))
    }

    async fn prove(&self, caller: &Caller, who: &Person, pin: Option<&Secret>, asked: &str) -> Answer<()> {
        let Err(why) = self.keeper().prove(who, pin).await else { return Ok(()) };
        let (kind, text) = told(who, &why, self.clock.rate());
        let known = (why != NotProved::Stranger).then(|| who.to_string());
        // a terminal that asks without a PIN is told to ask for one: nothing was tried
        if why != NotProved::Missing {
            self.keeper().refused(kind, known, whence(caller), asked);
        }
        Err(no(text))
    }

    /// A refusal of an act is written down, with who is signed in as far as they are known.
    pub(super) fn note_refusal(&self, caller: &Caller, act: &str, problem: &Problem) {
        if problem.kind != ProblemKind::NotPermitted {
            return;
        }
        let here = at_the_machine(&self.premises.config.api, caller);
        let signed_in = || {
            let names = self.fold(|f| f.people().iter().map(|p| p.who.to_string()).collect::<Vec<_>>()).ok()?;
            (!names.is_empty()).then(|| names.join(", "))
        };
        let who = caller.guest.as_ref().map(|g| g.name.clone()).or_else(|| here.then(signed_in).flatten());
        let kind = if here { RefusalKind::Role } else { RefusalKind::FromAfar };
        self.keeper().refused(kind, who, whence(caller), act);
    }

    /// Only at this computer, by whoever can read the terminal's token; with an owner's PIN once there is one, or one's
    /// own for one's own PIN. Answers who it is.
    async fn may_change(
        &self,
        caller: &Caller,
        by: Option<&Credential>,
        own: Option<&Person>,
        asked: &str,
    ) -> Answer<Option<Actor>> {
        if !declared(&self.premises.config.api, caller) {
            self.refused(caller, RefusalKind::FromAfar, asked);
            return Err(no(
                "People and tokens are only changed at the machine's own computer, by the user of the terminal.",
            ));
        }
        if !self.keeper().pins() {
            return Ok(None);
        }
        let Some(by) = by else {
            return Err(no("This needs an owner's PIN: say who you are, with --as NAME."));
        };
        self.prove(caller, &by.who, Some(&by.pin), asked).await?;
        let role = self.keeper().role_of(&by.who).ok_or_else(gone)?;
        if role != Role::Owner && own != Some(&by.who) {
            self.keeper().refused(RefusalKind::Role, Some(by.who.to_string()), whence(caller), asked);
            return Err(no("Only an owner does that."));
        }
        Ok(Some(Actor { who: by.who.clone(), role }))
    }

    async fn write_down(&self, actor: Option<Actor>, change: RightsChange, name: String, role: Role) -> Answer<()> {
        let mut id = [0_u8; 16];
        #[allow(clippy::disallowed_methods, reason = "a command's id")]
        getrandom::fill(&mut id).map_err(|_| gone())?;
        let command = CommandId(format!("rights-{}", id.iter().map(|b| format!("{b:02x}")).collect::<String>()));
        let draft = self.draft(&command, What::PeopleChanged { change, name, role });
        let draft = Draft { actor, ..draft };
        let done =
            Done { schema: SCHEMA, said: String::new(), id: None, revision: None, findings: Vec::new(), changes: None };
        let (reply, answer) = oneshot::channel();
        self.send(Errand::Record(vec![draft], command, done, reply))?;
        answer.await.map_err(|_| gone())?.map(|_| ())
    }
}

fn changed(said: String) -> PeopleChanged {
    PeopleChanged { schema: SCHEMA, said }
}

impl Gate for FrontDesk {
    async fn people(&self, _: Caller) -> Answer<PeopleList> {
        let tick = self.keeper().tick();
        let (pins, people) = self.keeper().book(|b| (b.pins(), b.rows(tick)));
        Ok(PeopleList { schema: SCHEMA, pins, people })
    }

    async fn change_people(&self, caller: Caller, request: ChangePeople) -> Answer<PeopleChanged> {
        let keeper = self.keeper();
        let (who, own, asked) = match &request.change {
            PeopleChange::Add { who, .. } => (who.clone(), None, "add somebody"),
            PeopleChange::SetPin { who, .. } => (who.clone(), Some(who), "set a PIN"),
            PeopleChange::Remove { who } => (who.clone(), None, "take a PIN away"),
        };
        let actor = self.may_change(&caller, request.by.as_ref(), own, asked).await?;
        let role_before = keeper.role_of(&who);
        let (said, change) = match &request.change {
            PeopleChange::Add { role, pin, .. } => {
                keeper.change(|b| b.add(&who, *role)).map_err(not_changed)?;
                match pin {
                    None => (format!("{who} works here now."), RightsChange::Added),
                    Some(pin) => {
                        if let Err(fault) = keeper.set_pin(&who, pin).await {
                            // all of it or nothing
                            keeper.change(|b| b.remove(&who)).map_err(not_changed)?;
                            return Err(not_set(fault));
                        }
                        (format!("{who} works here now, and signs in with a PIN."), RightsChange::Added)
                    }
                }
            }
            PeopleChange::SetPin { pin, .. } => {
                keeper.set_pin(&who, pin).await.map_err(not_set)?;
                (format!("{who} signs in with the new PIN from now on."), RightsChange::PinSet)
            }
            PeopleChange::Remove { .. } => {
                keeper.change(|b| b.remove(&who)).map_err(not_changed)?;
                let said = match (keeper.role_of(&who), keeper.pins()) {
                    (None, _) => format!("{who} works here no longer."),
                    (Some(_), true) => {
                        format!("{who} has no PIN any more and cannot sign in. daemon.toml still names them.")
                    }
                    (Some(_), false) => "Nobody has a PIN any more: signing in asks for none.".to_owned(),
                };
                (said, RightsChange::Removed)
            }
        };
        let role = keeper.role_of(&who).or(role_before).unwrap_or(Role::Helper);
        self.write_down(actor, change, who.0, role).await?;
        Ok(changed(said))
    }

    async fn tokens(&self, _: Caller) -> Answer<TokenList> {
        let now = self.wall();
        Ok(TokenList { schema: SCHEMA, tokens: self.keeper().book(|b| b.token_rows(now)) })
    }

    async fn make_token(&self, caller: Caller, request: MakeToken) -> Answer<TokenMade> {
        let actor = self.may_change(&caller, request.by.as_ref(), None, "make a token").await?;
        let MakeToken { name, role, expires, .. } = request;
        let token = self.keeper().make_token(&name, role, expires).await.map_err(not_changed)?;
        self.write_down(actor, RightsChange::TokenMade, name.clone(), role).await?;
        let day = expires.with_timezone(&self.premises.config.hours.time_zone).format("%Y-%m-%d %H:%M");
        let said = format!("The token {name} counts until {day}. It is shown this once; it moves nothing.");
        Ok(TokenMade { schema: SCHEMA, said, token })
    }

    async fn revoke_token(&self, caller: Caller, name: String, request: RevokeToken) -> Answer<PeopleChanged> {
        let actor = self.may_change(&caller, request.by.as_ref(), None, "take a token back").await?;
        let rows = self.tokens(caller).await?.tokens;
        let role = rows.iter().find(|t| t.name == name).map_or(Role::Helper, |t| t.role);
        self.keeper().change(|b| b.revoke(&name)).map_err(not_changed)?;
        self.write_down(actor, RightsChange::TokenRevoked, name.clone(), role).await?;
        Ok(changed(format!("The token {name} counts no longer.")))
    }

    async fn refusals(&self, _: Caller) -> Answer<RefusalList> {
        Ok(RefusalList { schema: SCHEMA, refusals: self.keeper().refusals() })
    }

    fn guest(&self, given: Option<&[u8]>, from: IpAddr, asked: &str, counts: bool) -> Result<Guest, Turned> {
        let (kind, who, turned) = match self.keeper().holder(given, from, counts) {
            Ok(holder) => return Ok(Guest { name: holder.name, role: holder.role, address: from }),
            Err(NoHolder::Bad(over)) => (RefusalKind::BadToken, over, Turned::BadToken),
            Err(NoHolder::Shut(seconds)) => (RefusalKind::TooMany, None, Turned::TooMany(seconds)),
            Err(NoHolder::Busy(holder)) => (RefusalKind::TooMany, Some(holder.name), Turned::TooMany(1)),
        };
        self.keeper().refused(kind, who, from.to_string(), asked);
        Err(turned)
    }

    fn refused(&self, caller: &Caller, kind: RefusalKind, asked: &str) {
        let who = caller.guest.as_ref().map(|g| g.name.clone());
        self.keeper().refused(kind, who, whence(caller), asked);
    }
}
