//! Throttling of password guesses.
//!
//! An attempt is charged before the password is verified and reversed if the password was correct, so that concurrent
//! attempts cannot pass unchecked. A stranger's wait grows with the failures at the account from that network, of the
//! network, and at the account from everywhere. The last is waited for by each network on its own, from when it first
//! asked: whoever fails from many networks makes the owner wait once, and can neither prolong that wait nor take the
//! owner's turn. A known device and a signed-in person have counters of their own, which nobody else can fill. Never
//! here: an account that is locked for good.

use chrono::{DateTime, Duration, Utc};
use diesel::prelude::*;
use diesel_async::RunQueryDsl;
use schema::attempt;
use uuid::Uuid;

use canonical::{self, Sha};
use store::{Result, Tx};
use wire::ids::PersonId;

/// One limit on failures.
struct Limit {
    /// Failures without a wait.
    free: u32,
    /// The longest wait, in seconds.
    longest: u64,
}

/// At one account from one network, on one known device, or of one signed-in person.
const ONE_SOURCE: Limit = Limit { free: 5, longest: 900 };
/// From one network, at whatever accounts.
const NETWORK: Limit = Limit { free: 50, longest: 300 };
/// At one account, from whatever networks. Each of them then gets at most four guesses an hour.
const ACCOUNT: Limit = Limit { free: 30, longest: 900 };

/// Failures expire after this time without a further failure.
pub const EXPIRE_AFTER: Duration = Duration::hours(1);

impl Limit {
    /// The wait in seconds: 1 after the first failure beyond the free ones, doubled by each further failure.
    fn wait(&self, failures: i32) -> u64 {
        let past = u32::try_from(failures).unwrap_or(0).saturating_sub(self.free);
        if past == 0 { 0 } else { 1_u64.checked_shl(past - 1).unwrap_or(u64::MAX).min(self.longest) }
    }
}

/// What an attempt is counted under. Rows are locked in the order of its fields.
pub(super) enum Counted {
    /// An attempt by somebody of whom nothing is known.
    Stranger {
        /// The network.
        network: Sha,
        /// The account from that network.
        pair: Sha,
        /// The account.
        account: Sha,
    },
    /// An attempt on a counter that only its owner can fill.
    Own(Sha),
}

impl Counted {
    /// An attempt at an account, or at whatever is named, from a network.
    pub(super) fn stranger(account: &str, network: &str) -> Self {
        // Normalised as in the account look-up, so that another spelling does not give a guesser a fresh counter.
        let account = account.trim().to_lowercase();
        let (account, network) = (account.as_bytes(), network.as_bytes());
        Self::Stranger {
            network: canonical::digest([&b"address"[..], network]),
            pair: canonical::digest([&b"account from address"[..], account, network]),
            account: canonical::digest([&b"account"[..], account]),
        }
    }

    /// An attempt on a device that the person has signed in on.
    pub(super) fn on_device(device: Uuid, person: PersonId) -> Self {
        Self::Own(canonical::digest([&b"device"[..], device.as_bytes(), person.0.as_bytes()]))
    }

    /// An attempt of a signed-in person at their own password.
    pub(super) fn by_person(person: PersonId) -> Self {
        Self::Own(canonical::digest([&b"own password"[..], person.0.as_bytes()]))
    }
}

/// Failures under one key that have not expired, and for how long there was none.
struct Count {
    failures: i32,
    quiet: Duration,
}

impl Count {
    /// Seconds that are left of a wait.
    fn left(&self, wait: u64) -> u64 {
        let left = i64::try_from(wait).unwrap_or(i64::MAX) - self.quiet.num_seconds();
        u64::try_from(left).unwrap_or(0)
    }
}

/// Charges one attempt. While a wait is running, answers the seconds that are left of it and charges nothing, so that
/// nobody can prolong it; the transaction must be committed all the same, since it notes when a network first asked.
///
/// # Errors
/// Returns the errors of the database.
pub(super) async fn charge(tx: &mut Tx<'_>, counted: &Counted) -> Result<Option<u64>> {
    match counted {
        Counted::Own(key) => {
            let count = lock(tx, key).await?;
            let left = count.left(ONE_SOURCE.wait(count.failures));
            if left > 0 {
                return Ok(Some(left));
            }
            add(tx, key, &count).await?;
        }
        Counted::Stranger { network, pair, account } => {
            let of_network = lock(tx, network).await?;
            let left = of_network.left(NETWORK.wait(of_network.failures));
            if left > 0 {
                // Before a row is made for the account: such rows would be free for whoever is being slowed.
                return Ok(Some(left));
            }
            let (of_pair, of_account) = (lock(tx, pair).await?, lock(tx, account).await?);
            let wait = ONE_SOURCE.wait(of_pair.failures).max(ACCOUNT.wait(of_account.failures));
            let left = of_pair.left(wait);
            if left > 0 {
                return Ok(Some(left));
            }
            add(tx, network, &of_network).await?;
            add(tx, pair, &of_pair).await?;
            add(tx, account, &of_account).await?;
        }
    }
    Ok(None)
}

/// Inserts a missing row and locks it in any case, so that attempts under one key serialise.
async fn lock(tx: &mut Tx<'_>, key: &Sha) -> Result<Count> {
    let now = tx.now();
    let (failures, last_at): (i32, DateTime<Utc>) = diesel::insert_into(attempt::table)
        .values((attempt::throttle_key.eq(&key[..]), attempt::failures.eq(0), attempt::last_at.eq(now)))
        .on_conflict(attempt::throttle_key)
        .do_update()
        .set(attempt::throttle_key.eq(&key[..]))
        .returning((attempt::failures, attempt::last_at))
        .get_result(tx.conn())
        .await?;
    let quiet = now - last_at;
    Ok(Count { failures: if quiet < EXPIRE_AFTER { failures } else { 0 }, quiet })
}

async fn add(tx: &mut Tx<'_>, key: &Sha, to: &Count) -> Result<()> {
    let now = tx.now();
    diesel::update(attempt::table.find(&key[..]))
        .set((attempt::failures.eq(to.failures + 1), attempt::last_at.eq(now)))
        .execute(tx.conn())
        .await?;
    Ok(())
}

/// Reverses [`charge`] after a correct password: forgets the failures of its own source, which the account then has no
/// longer either, and takes the one attempt off the network. Failures at the account from elsewhere stay, so that its
/// owner's signing in gives a guesser nothing. Locks in the order of `charge` to prevent deadlock.
///
/// # Errors
/// Returns the errors of the database.
pub(super) async fn reset_failures(tx: &mut Tx<'_>, counted: &Counted) -> Result<()> {
    match counted {
        Counted::Own(key) => {
            diesel::delete(attempt::table.find(&key[..])).execute(tx.conn()).await?;
        }
        Counted::Stranger { network, pair, account } => {
            take_off(tx, network, 1).await?;
            let own: Option<i32> = diesel::delete(attempt::table.find(&pair[..]))
                .returning(attempt::failures)
                .get_result(tx.conn())
                .await
                .optional()?;
            take_off(tx, account, own.unwrap_or(0)).await?;
        }
    }
    Ok(())
}

async fn take_off(tx: &mut Tx<'_>, key: &Sha, failures: i32) -> Result<()> {
    let left =
        diesel::dsl::case_when(attempt::failures.gt(failures), attempt::failures - failures).otherwise(0);
    diesel::update(attempt::table.find(&key[..])).set(attempt::failures.eq(left)).execute(tx.conn()).await?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_wait_doubles_up_to_its_limit() {
        assert_eq!(ONE_SOURCE.wait(5), 0);
        assert_eq!(ONE_SOURCE.wait(6), 1);
        assert_eq!(ONE_SOURCE.wait(9), 8);
        assert_eq!(ONE_SOURCE.wait(1000), 900);
        assert_eq!(ACCOUNT.wait(31), 1);
        assert_eq!(ACCOUNT.wait(i32::MAX), 900);
    }
}
