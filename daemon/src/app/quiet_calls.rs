//! Calls that are answered by somebody doing something.

use super::foreman::{Foreman, Source};
use crate::floor::By;
use chargehand_types::act::Act;
use chargehand_types::call::CallReason;
use chargehand_types::event::What;

impl Foreman {
    /// Calls that only said that somebody is needed are answered by somebody doing something at the machine.
    pub(super) async fn answer_quiet_calls(&mut self, by: By, act: &Act, source: &Source) {
        // whoever signs out does not see to what that may have called for
        if !matches!(by, By::AtMachine(_)) || act.always_open() || *act == Act::SignOut {
            return;
        }
        let quiet = |r: CallReason| {
            let held = matches!(r, CallReason::HeldFromAfar | CallReason::StillThere);
            held || matches!(r, CallReason::Prompt | CallReason::OperationDone)
        };
        let open: Vec<u64> = self
            .shared
            .fold
            .read()
            .map(|f| f.calls().filter(|c| quiet(c.reason)).map(|c| c.number).collect())
            .unwrap_or_default();
        let answered = open.into_iter().map(|number| What::CallAnswered { number }).collect();
        if let Err(problem) = self.tell(answered, source).await {
            tracing::warn!("{problem}");
        }
    }
}
