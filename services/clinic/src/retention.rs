//! Removing what is needed for a time only: records of repeated requests, refresh tokens, counts of failures, security
//! events, reservations of lots and the words of reports of reactions. What the journal vouches for stays for ever.

use chrono::{DateTime, Duration, Utc};
use store::Result;
use store::purge::{self, Aged, BATCH};

use crate::Clinic;

/// For how many days rows are kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Retention {
    /// A creating request may be repeated for so long without doing anything twice.
    pub repeats: u16,
    /// Refresh tokens, used ones too, so that a second use is recognised. No session lasts longer than fourteen days.
    pub refresh_tokens: u16,
    /// Security events. The database keeps at least thirty days.
    pub security_events: u16,
}

/// How many batches of each kind are removed in one go at most. What is left is removed the next time.
const BATCHES: usize = 20;

/// Removes what has been kept long enough, in bounded batches of a transaction each. Answers how many rows went.
///
/// # Errors
/// Returns the errors of the database. What was removed before stays removed.
pub async fn purge(clinic: &Clinic, retention: &Retention) -> Result<usize> {
    let now = clinic.store.clock.now();
    let mut removed = 0;
    for (table, kept) in [
        (Aged::Attempts, ::people::FAILURES_EXPIRE_AFTER),
        (Aged::RefreshTokens, days(retention.refresh_tokens)),
        (Aged::PageSessions, days(retention.refresh_tokens)),
        (Aged::Idempotency, days(retention.repeats)),
    ] {
        for _ in 0..BATCHES {
            let some = purge::purge(&clinic.store, table, before(now, kept)).await?;
            removed += some;
            if i64::try_from(some).unwrap_or(0) < BATCH {
                break;
            }
        }
    }
    let (before, most) = (before(now, days(retention.security_events)), i32::try_from(BATCH).unwrap_or(1000));
    for _ in 0..BATCHES {
        let some = ::people::security::purge(&clinic.store, before, most).await?;
        removed += usize::try_from(some).unwrap_or(0);
        if i64::try_from(some).unwrap_or(0) < BATCH {
            break;
        }
    }
    removed += ::stock::purge(&clinic.store).await?;
    removed += ::reactions::purge(&clinic.store).await?;
    Ok(removed)
}

fn days(days: u16) -> Duration {
    Duration::days(days.into())
}

fn before(now: DateTime<Utc>, kept: Duration) -> DateTime<Utc> {
    now.checked_sub_signed(kept).unwrap_or(DateTime::<Utc>::MIN_UTC)
}
