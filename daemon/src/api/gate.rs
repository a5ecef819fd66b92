//! The gate: what the API asks of whoever keeps people, tokens and refusals. `app` stands at it.
//!
//! May live here: the trait, and who was let in over a network. May not: HTTP, any comparison of a secret.

use super::desk::{Answer, Caller};
use chargehand_types::people::{
    ChangePeople, MakeToken, PeopleChanged, PeopleList, RefusalKind, RefusalList, RevokeToken, TokenList, TokenMade,
};
use chargehand_types::stage::Role;
use std::future::Future;
use std::net::IpAddr;

/// Somebody who showed a token over a network.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Guest {
    /// The token's name.
    pub name: String,
    /// What it may do.
    pub role: Role,
    /// From where.
    pub address: IpAddr,
}

/// Why nobody is let in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Turned {
    /// No token, a wrong one, one that is over or was revoked.
    BadToken,
    /// Too much: ask again after so many seconds.
    TooMany(u64),
}

/// What the API asks about rights.
pub trait Gate: Send + Sync + 'static {
    /// `GET /v1/people`
    fn people(&self, caller: Caller) -> impl Future<Output = Answer<PeopleList>> + Send;

    /// `POST /v1/people`
    fn change_people(
        &self,
        caller: Caller,
        request: ChangePeople,
    ) -> impl Future<Output = Answer<PeopleChanged>> + Send;

    /// `GET /v1/tokens`
    fn tokens(&self, caller: Caller) -> impl Future<Output = Answer<TokenList>> + Send;

    /// `POST /v1/tokens`
    fn make_token(&self, caller: Caller, request: MakeToken) -> impl Future<Output = Answer<TokenMade>> + Send;

    /// `POST /v1/tokens/{name}/revoke`
    fn revoke_token(
        &self,
        caller: Caller,
        name: String,
        request: RevokeToken,
    ) -> impl Future<Output = Answer<PeopleChanged>> + Send;

    /// `GET /v1/people/refusals`
    fn refusals(&self, caller: Caller) -> impl Future<Output = Answer<RefusalList>> + Send;

    /// Who shows this token from there; with what is asked for the record of a refusal, and whether it counts against
    /// how much may be asked.
    ///
    /// # Errors
    /// Why nobody is let in.
    fn guest(&self, given: Option<&[u8]>, from: IpAddr, asked: &str, counts: bool) -> Result<Guest, Turned>;

    /// Something was refused before any desk was asked.
    fn refused(&self, caller: &Caller, kind: RefusalKind, asked: &str);
}
