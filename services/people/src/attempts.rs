//! Slowing down those who guess, without locking anybody out.
//!
//! An attempt is charged before the password is looked at and taken back when it was right, so that many at once
//! cannot slip through. Waiting grows with the failures at one account from one address, at one address, and
//! (mildly: the owner must still get in) at one account from anywhere.

use chrono::{DateTime, Duration, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::attempt;

use canonical::{self, Sha};
use store::{Error, Result, Store, Tx};

/// How many failures are free, and the longest wait after that, in seconds.
struct Limit {
    free: u32,
    longest: u64,
}

const ACCOUNT_FROM_ADDRESS: Limit = Limit { free: 5, longest: 900 };
const ADDRESS: Limit = Limit { free: 50, longest: 300 };
const ACCOUNT: Limit = Limit { free: 30, longest: 30 };

/// After an hour without a failure everything is forgotten.
const FORGOTTEN_AFTER: Duration = Duration::hours(1);

impl Limit {
    /// Doubles with every failure past the free ones.
    fn wait(&self, failures: i32) -> u64 {
        let past = u32::try_from(failures).unwrap_or(0).saturating_sub(self.free);
        if past == 0 { 0 } else { 1_u64.checked_shl(past - 1).unwrap_or(u64::MAX).min(self.longest) }
    }
}

fn aims(account: &str, address: &str) -> [(Sha, Limit); 3] {
    // As the account is looked up: other spellings of a name are no further accounts to guess at.
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
/// [`Error::TooMany`] while a wait is running. That attempt is not charged: whoever hammers at an account does not
/// prolong its owner's wait.
pub(super) async fn charge(tx: &mut Tx<'_>, account: &str, address: &str) -> Result<()> {
    let now = tx.now;
    let mut charged = Vec::with_capacity(3);
    let mut longest = 0;
    for (aim, limit) in aims(account, address) {
        // Made if missing and locked either way: attempts at one aim follow each other.
        let (failures, last_at): (i32, DateTime<Utc>) = diesel::insert_into(attempt::table)
            .values((attempt::throttle_key.eq(&aim[..]), attempt::failures.eq(0), attempt::last_at.eq(now)))
            .on_conflict(attempt::throttle_key)
            .do_update()
            .set(attempt::throttle_key.eq(&aim[..]))
            .returning((attempt::failures, attempt::last_at))
            .get_result(tx.conn())
            .await?;
        let quiet = now - last_at;
        let failures = if quiet < FORGOTTEN_AFTER { failures } else { 0 };
        let left = i64::try_from(limit.wait(failures)).unwrap_or(i64::MAX) - quiet.num_seconds();
        longest = longest.max(u64::try_from(left).unwrap_or(0));
        charged.push((aim, failures + 1));
    }
    if longest > 0 {
        return Err(Error::TooMany { retry_after: longest });
    }
    for (aim, failures) in charged {
        diesel::update(attempt::table.find(&aim[..]))
            .set((attempt::failures.eq(failures), attempt::last_at.eq(now)))
            .execute(tx.conn())
            .await?;
    }
    Ok(())
}

/// Takes back what a right attempt was charged: the account is forgiven, the address keeps its other failures. Locks in
/// the order in which [`charge`] does, so that a class that signs in at once does not wait in a circle.
pub(super) async fn forgive(tx: &mut Tx<'_>, account: &str, address: &str) -> Result<()> {
    let [(pair, _), (address, _), (account, _)] = aims(account, address);
    diesel::delete(attempt::table.find(&pair[..])).execute(tx.conn()).await?;
    diesel::update(attempt::table.find(&address[..]).filter(attempt::failures.gt(0)))
        .set(attempt::failures.eq(attempt::failures - 1))
        .execute(tx.conn())
        .await?;
    diesel::delete(attempt::table.find(&account[..])).execute(tx.conn()).await?;
    Ok(())
}

/// Forgets the attempts that no longer count, so that the table stays small.
///
/// # Errors
/// When the database cannot be written.
pub async fn forget_attempts(store: &Store) -> Result<()> {
    store
        .run_unauthenticated(async |tx| {
            let before = tx.now - FORGOTTEN_AFTER;
            diesel::delete(attempt::table.filter(attempt::last_at.lt(before))).execute(tx.conn()).await?;
            Ok(())
        })
        .await
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waiting_doubles_and_has_an_end() {
        assert_eq!(ACCOUNT_FROM_ADDRESS.wait(5), 0);
        assert_eq!(ACCOUNT_FROM_ADDRESS.wait(6), 1);
        assert_eq!(ACCOUNT_FROM_ADDRESS.wait(9), 8);
        assert_eq!(ACCOUNT_FROM_ADDRESS.wait(1000), 900);
        assert_eq!(ACCOUNT.wait(i32::MAX), 30);
    }
}
