//! Throttling of password guesses.
//!
//! An attempt is charged before the password is verified and reversed if the password was correct, so that concurrent
//! attempts cannot pass unchecked. The wait grows with the failures of an account from one address, of an address, and
//! of an account from all addresses; the last limit is mild. Never here: an account that is locked for good.

use chrono::{DateTime, Duration, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::attempt;

use canonical::{self, Sha};
use store::{Error, Result, Store, Tx};

/// One limit on failures.
struct Limit {
    /// Failures without a wait.
    free: u32,
    /// The longest wait, in seconds.
    longest: u64,
}

const ACCOUNT_FROM_ADDRESS: Limit = Limit { free: 5, longest: 900 };
const ADDRESS: Limit = Limit { free: 50, longest: 300 };
const ACCOUNT: Limit = Limit { free: 30, longest: 30 };

/// Failures expire after this time without a further failure.
const EXPIRE_AFTER: Duration = Duration::hours(1);

impl Limit {
    /// The wait in seconds: 1 after the first failure beyond the free ones, doubled by each further failure.
    fn wait(&self, failures: i32) -> u64 {
        let past = u32::try_from(failures).unwrap_or(0).saturating_sub(self.free);
        if past == 0 { 0 } else { 1_u64.checked_shl(past - 1).unwrap_or(u64::MAX).min(self.longest) }
    }
}

/// The keys that failures are counted under, with their limits.
fn throttle_keys(account: &str, address: &str) -> [(Sha, Limit); 3] {
    // Normalised as in the account look-up, so that another spelling does not give a guesser a fresh counter.
    let account = account.trim().to_lowercase();
    [
        (
            canonical::digest([&b"account from address"[..], account.as_bytes(), address.as_bytes()]),
            ACCOUNT_FROM_ADDRESS,
        ),
        (canonical::digest([&b"address"[..], address.as_bytes()]), ADDRESS),
        (canonical::digest([&b"account"[..], account.as_bytes()]), ACCOUNT),
    ]
}

/// Charges one attempt at an account from an address.
///
/// # Errors
/// Returns [`Error::RateLimited`] while a wait is running. Such an attempt is not charged, so that an attacker cannot
/// prolong the wait of the account's owner.
pub(super) async fn charge(tx: &mut Tx<'_>, account: &str, address: &str) -> Result<()> {
    let now = tx.now();
    let mut charged = Vec::with_capacity(3);
    let mut longest = 0;
    for (key, limit) in throttle_keys(account, address) {
        // Inserts a missing row and locks it in any case, so that attempts under one key serialise.
        let (failures, last_at): (i32, DateTime<Utc>) = diesel::insert_into(attempt::table)
            .values((attempt::throttle_key.eq(&key[..]), attempt::failures.eq(0), attempt::last_at.eq(now)))
            .on_conflict(attempt::throttle_key)
            .do_update()
            .set(attempt::throttle_key.eq(&key[..]))
            .returning((attempt::failures, attempt::last_at))
            .get_result(tx.conn())
            .await?;
        let quiet = now - last_at;
        let failures = if quiet < EXPIRE_AFTER { failures } else { 0 };
        let left = i64::try_from(limit.wait(failures)).unwrap_or(i64::MAX) - quiet.num_seconds();
        longest = longest.max(u64::try_from(left).unwrap_or(0));
        charged.push((key, failures + 1));
    }
    if longest > 0 {
        return Err(Error::RateLimited { retry_after: longest });
    }
    for (key, failures) in charged {
        diesel::update(attempt::table.find(&key[..]))
            .set((attempt::failures.eq(failures), attempt::last_at.eq(now)))
            .execute(tx.conn())
            .await?;
    }
    Ok(())
}

/// Reverses [`charge`] after a correct password: clears the account's counters, subtracts one from the address counter.
/// Locks in the order of `charge` to prevent deadlock.
///
/// # Errors
/// Returns the errors of the database.
pub(super) async fn reset_failures(tx: &mut Tx<'_>, account: &str, address: &str) -> Result<()> {
    let [(pair, _), (address, _), (account, _)] = throttle_keys(account, address);
    diesel::delete(attempt::table.find(&pair[..])).execute(tx.conn()).await?;
    diesel::update(attempt::table.find(&address[..]).filter(attempt::failures.gt(0)))
        .set(attempt::failures.eq(attempt::failures - 1))
        .execute(tx.conn())
        .await?;
    diesel::delete(attempt::table.find(&account[..])).execute(tx.conn()).await?;
    Ok(())
}

/// Deletes expired failures, so that the table stays small.
///
/// # Errors
/// Returns the errors of the database.
pub async fn purge_expired_failures(store: &Store) -> Result<()> {
    store
        .run_unauthenticated(async |tx| {
            let before = tx.now() - EXPIRE_AFTER;
            diesel::delete(attempt::table.filter(attempt::last_at.lt(before))).execute(tx.conn()).await?;
            Ok(())
        })
        .await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_wait_doubles_up_to_its_limit() {
        assert_eq!(ACCOUNT_FROM_ADDRESS.wait(5), 0);
        assert_eq!(ACCOUNT_FROM_ADDRESS.wait(6), 1);
        assert_eq!(ACCOUNT_FROM_ADDRESS.wait(9), 8);
        assert_eq!(ACCOUNT_FROM_ADDRESS.wait(1000), 900);
        assert_eq!(ACCOUNT.wait(i32::MAX), 30);
    }
}
