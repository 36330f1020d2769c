//! The demo clinic: a scenario of our own, with invented names, made through the same functions that serve callers.
//!
//! Its accounts get random passwords, printed once, and it is loaded on a loopback address only.

mod batches;
mod checks;
mod custody;
mod long_work;
mod lots;
mod photographs;
mod requests;
mod scenario;
mod teaching;
mod work;

use std::fmt::Write;

use clinic::people::{self, Opened, Origin};
use clinic::{Clinic, Credentials};
use wire::people::{Invite, Role, SignIn, UseCode};

use self::requests::once;
use crate::error::StartError;
use crate::settings::Settings;

/// The accounts: sign-in name, name, role.
const ACCOUNTS: [(&str, &str, Role); 8] = [
    ("petra.hollweg", "Petra Hollweg", Role::Administrator),
    ("ilse.brandt", "Ilse Brandt", Role::Instructor),
    ("marek.dvorsky", "Marek Dvorsky", Role::Instructor),
    ("noor.haddad", "Noor Haddad", Role::Student),
    ("tomas.lind", "Tomas Lind", Role::Student),
    ("imke.sorensen", "Imke Sorensen", Role::Student),
    ("bram.okoro", "Bram Okoro", Role::Student),
    ("lucia.ferrand", "Lucia Ferrand", Role::Student),
];

/// Loads the demo clinic into an empty database, or gives its accounts new passwords; answers what to tell.
///
/// # Errors
/// When the address is not a loopback address, or something of the scenario was refused.
pub async fn run(settings: &Settings, clinic: &Clinic, new_passwords: bool) -> Result<String, StartError> {
    if !settings.listen.ip().is_loopback() {
        return Err(StartError::Clinic(format!(
            "The demo clinic may listen only on a loopback address, but STILLROOM_LISTEN is {}. Set it to \
             127.0.0.1:8080.",
            settings.listen
        )));
    }
    let here = people::anybody(clinic).await?;
    if here && !new_passwords {
        return Ok(
            "The clinic already has people, so nothing was loaded. For new passwords of the demo accounts, \
             run: stillroom demo --new-passwords"
                .into(),
        );
    }
    if here {
        return Ok(accounts_told(&renew(clinic).await?));
    }
    let accounts = load(clinic).await?;
    Ok(accounts_told(&accounts))
}

/// A demo account with its password.
pub struct Account {
    /// The name to sign in with.
    pub sign_in_name: &'static str,
    /// What the person does in the clinic.
    pub role: Role,
    /// The random password.
    pub password: String,
}

fn accounts_told(accounts: &[Account]) -> String {
    let mut text = String::from("Demo accounts (random passwords, shown this once):\n");
    for account in accounts {
        // Writing to a string cannot fail.
        let _ = writeln!(
            text,
            "  {:<15} {:<14} {}",
            account.sign_in_name,
            account.role.as_str(),
            account.password
        );
    }
    text
}

/// Loads the demo clinic; answers its accounts.
///
/// # Errors
/// When something of the scenario was refused.
pub async fn load(clinic: &Clinic) -> Result<Vec<Account>, StartError> {
    let mut accounts = Vec::new();
    let mut claims = Vec::new();
    for (sign_in_name, name, role) in ACCOUNTS {
        let code = match claims.first() {
            None => people::administrator_create(clinic, sign_in_name, name).await?,
            Some((administrator, _)) => {
                let invite = Invite { sign_in_name: sign_in_name.into(), name: name.into(), role };
                people::invite(clinic, administrator, &once(clinic), &invite).await?
            }
        };
        let password = password(clinic);
        use_code(clinic, code.code.unwrap_or_default(), &password).await?;
        let opened = sign_in(clinic, sign_in_name, &password).await?;
        let credentials = Credentials::Session { session: opened.session, person: opened.person.id };
        claims.push((credentials, opened.person.id));
        accounts.push(Account { sign_in_name, role, password });
    }
    let [administrator, ilse, marek, noor, tomas, class @ ..] = claims.as_slice() else {
        return Err(StartError::Clinic("The demo accounts could not be created.".into()));
    };
    scenario::load(clinic, administrator.0, ilse.0, marek.0, (*noor, *tomas), class).await?;
    for (credentials, _) in &claims {
        people::session_end(clinic, credentials, None).await?;
    }
    Ok(accounts)
}

async fn renew(clinic: &Clinic) -> Result<Vec<Account>, StartError> {
    let mut accounts = Vec::new();
    for (sign_in_name, _, role) in ACCOUNTS {
        match people::recover(clinic, sign_in_name).await {
            Ok(code) => {
                let password = password(clinic);
                use_code(clinic, code.code.unwrap_or_default(), &password).await?;
                accounts.push(Account { sign_in_name, role, password });
            }
            // A demo account that was removed or renamed is nobody to give a password to.
            Err(clinic::Error::NotFound(_)) => {}
            Err(error) => return Err(error.into()),
        }
    }
    Ok(accounts)
}

async fn use_code(clinic: &Clinic, code: String, password: &str) -> clinic::Result<()> {
    let request = UseCode { code, password: password.to_owned() };
    people::code_use(clinic, request, &Origin::default()).await.map(drop)
}

async fn sign_in(clinic: &Clinic, name: &str, password: &str) -> clinic::Result<Opened> {
    let request = SignIn { sign_in_name: name.to_owned(), password: password.to_owned(), device_token: None };
    people::sign_in(clinic, request, &Origin::default()).await.map(|entered| entered.opened)
}

/// Twenty letters and digits that cannot be mistaken for one another: about a hundred random bits.
fn password(clinic: &Clinic) -> String {
    const LETTERS: &[u8; 32] = b"abcdefghijkmnpqrstuvwxyz23456789";
    let letters: Vec<char> = clinic
        .rng()
        .bytes::<20>()
        .iter()
        .filter_map(|byte| LETTERS.get(usize::from(byte & 31)))
        .map(|letter| char::from(*letter))
        .collect();
    letters.chunks(5).map(|group| group.iter().collect::<String>()).collect::<Vec<_>>().join("-")
}
