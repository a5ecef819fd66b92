//! The routes of people, tokens and refusals.
//!
//! May live here: one method a route. May not: what a person types.

use super::{Api, ClientFault, PATIENCE, segment};
use chargehand_types::people::{
    ChangePeople, MakeToken, PeopleChanged, PeopleList, RefusalList, RevokeToken, TokenList, TokenMade,
};

impl Api {
    /// Who works here.
    ///
    /// # Errors
    /// See [`ClientFault`]; the same for every method here.
    pub async fn people(&self) -> Result<PeopleList, ClientFault> {
        self.get("/v1/people").await
    }

    /// Changes who may do what.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn change_people(&self, request: &ChangePeople) -> Result<PeopleChanged, ClientFault> {
        self.post("/v1/people", request, PATIENCE).await
    }

    /// What was refused.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn refusals(&self) -> Result<RefusalList, ClientFault> {
        self.get("/v1/people/refusals").await
    }

    /// The tokens there are.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn tokens(&self) -> Result<TokenList, ClientFault> {
        self.get("/v1/tokens").await
    }

    /// Makes a token.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn make_token(&self, request: &MakeToken) -> Result<TokenMade, ClientFault> {
        self.post("/v1/tokens", request, PATIENCE).await
    }

    /// Takes a token back.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn revoke_token(&self, name: &str, request: &RevokeToken) -> Result<PeopleChanged, ClientFault> {
        self.post(&format!("/v1/tokens/{}/revoke", segment(name)), request, PATIENCE).await
    }
}
