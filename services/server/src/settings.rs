//! Configuration: a TOML file, overridden by the environment.

use std::collections::BTreeMap;
use std::net::{IpAddr, SocketAddr};
use std::num::NonZeroU32;
use std::path::PathBuf;
use std::time::Duration;

use clinic::PoolSettings;
use serde::Deserialize;

/// The file, as it is written. Everything can be left out.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    database_url: Option<String>,
    migration_database_url: Option<String>,
    listen: Option<String>,
    public_url: Option<String>,
    signing_keys: Option<Vec<PathBuf>>,
    trusted_proxies: Option<Vec<IpAddr>>,
    requests_per_second: Option<u32>,
    connections: Option<usize>,
    wait_milliseconds: Option<usize>,
    workers: Option<usize>,
}

/// The configuration of the service.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Where the database is. Its login may act as `stillroom_service` and needs no other right.
    pub database_url: String,
    /// Where the database is for migrations, under its owner.
    pub migration_database_url: String,
    /// The address to listen on.
    pub listen: SocketAddr,
    /// The address the service is known by: the issuer of its tokens.
    pub public_url: String,
    /// Files with signing keys; the first signs, all verify.
    pub signing_keys: Vec<PathBuf>,
    /// Proxies whose `X-Forwarded-For` is believed.
    pub trusted_proxies: Vec<IpAddr>,
    /// How many requests a second one caller may make on average; `None` for no limit.
    pub requests_per_second: Option<NonZeroU32>,
    /// How many database connections at most, apart from one a worker for reading.
    pub connections: usize,
    /// How many worker threads.
    pub workers: usize,
    /// How long a request waits for a connection before it is answered 503.
    pub wait: Duration,
}

/// What is wrong with the configuration, with the cure.
#[derive(Debug, thiserror::Error)]
pub enum SettingsError {
    /// The file cannot be read.
    #[error("the configuration file {path} cannot be read: {error}")]
    Unreadable {
        /// The file.
        path: String,
        /// Why.
        error: String,
    },
    /// A value is missing or cannot be used.
    #[error("{name}: {cure}")]
    Value {
        /// The setting.
        name: &'static str,
        /// What would be accepted.
        cure: String,
    },
}

fn value(name: &'static str, cure: impl Into<String>) -> SettingsError {
    SettingsError::Value { name, cure: cure.into() }
}

impl Settings {
    /// Reads the environment and, if `STILLROOM_CONFIG` names one, the file.
    ///
    /// # Errors
    /// What is missing or cannot be used, and the cure.
    pub fn load() -> Result<Self, SettingsError> {
        let environment: BTreeMap<String, String> = std::env::vars().collect();
        let file = match environment.get("STILLROOM_CONFIG") {
            None => String::new(),
            Some(path) => std::fs::read_to_string(path).map_err(|error| SettingsError::Unreadable {
                path: path.clone(),
                error: error.to_string(),
            })?,
        };
        Self::read(&file, &environment)
    }

    /// Reads a file's text and an environment.
    ///
    /// # Errors
    /// What is missing or cannot be used, and the cure.
    pub fn read(file: &str, environment: &BTreeMap<String, String>) -> Result<Self, SettingsError> {
        let file: File = toml::from_str(file).map_err(|error| SettingsError::Unreadable {
            path: environment.get("STILLROOM_CONFIG").cloned().unwrap_or_default(),
            error: error.to_string(),
        })?;
        let env = |name: &str| environment.get(name).filter(|text| !text.is_empty()).cloned();
        let database_url = env("DATABASE_URL").or(file.database_url).ok_or_else(|| {
            value(
                "DATABASE_URL",
                "name the database, such as postgres://user@localhost/stillroom; ./deploy/up makes one",
            )
        })?;
        let listen = env("STILLROOM_LISTEN").or(file.listen).unwrap_or_else(|| "127.0.0.1:8080".into());
        let listen = listen.parse().map_err(|_| {
            value(
                "STILLROOM_LISTEN",
                format!("{listen:?} is not an address and port, such as 127.0.0.1:8080"),
            )
        })?;
        let public_url =
            env("STILLROOM_PUBLIC_URL").or(file.public_url).unwrap_or_else(|| format!("http://{listen}"));
        url::Url::parse(&public_url).map_err(|error| {
            value("STILLROOM_PUBLIC_URL", format!("{public_url:?} is not an address: {error}"))
        })?;
        let number = |name: &'static str, in_file: Option<usize>, otherwise: usize| match env(name) {
            None => Ok(in_file.unwrap_or(otherwise)),
            Some(text) => text.parse().map_err(|_| value(name, format!("{text:?} is not a whole number"))),
        };
        let rate = number(
            "STILLROOM_REQUESTS_PER_SECOND",
            file.requests_per_second.and_then(|rate| usize::try_from(rate).ok()),
            50,
        )?;
        let cores = std::thread::available_parallelism().map_or(2, std::num::NonZero::get);
        let positive = |name: &'static str, number: usize| {
            if (1..=1000).contains(&number) {
                Ok(number)
            } else {
                Err(value(name, "a whole number from 1 to 1000"))
            }
        };
        Ok(Self {
            migration_database_url: env("MIGRATION_DATABASE_URL")
                .or(file.migration_database_url)
                .unwrap_or_else(|| database_url.clone()),
            database_url,
            listen,
            public_url: public_url.trim_end_matches('/').to_owned(),
            signing_keys: match env("STILLROOM_SIGNING_KEYS") {
                Some(paths) => paths.split(':').map(PathBuf::from).collect(),
                None => file.signing_keys.unwrap_or_default(),
            },
            trusted_proxies: match env("STILLROOM_TRUSTED_PROXIES") {
                Some(text) => {
                    text.split(',').map(|one| one.trim().parse()).collect::<Result<_, _>>().map_err(|_| {
                        value("STILLROOM_TRUSTED_PROXIES", "addresses separated by commas, such as 10.0.0.2")
                    })?
                }
                None => file.trusted_proxies.unwrap_or_default(),
            },
            requests_per_second: NonZeroU32::new(u32::try_from(rate).unwrap_or(u32::MAX)),
            connections: positive(
                "STILLROOM_CONNECTIONS",
                number("STILLROOM_CONNECTIONS", file.connections, cores * 8)?,
            )?,
            workers: positive("STILLROOM_WORKERS", number("STILLROOM_WORKERS", file.workers, cores)?)?,
            wait: Duration::from_millis(
                number("STILLROOM_WAIT_MILLISECONDS", file.wait_milliseconds, 5000)?
                    .try_into()
                    .unwrap_or(u64::MAX),
            ),
        })
    }

    /// How the pool is made.
    #[must_use]
    pub fn pool(&self) -> PoolSettings {
        PoolSettings { url: self.database_url.clone(), size: self.connections, wait: self.wait }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn environment(pairs: &[(&str, &str)]) -> BTreeMap<String, String> {
        pairs.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect()
    }

    #[test]
    fn the_environment_overrides_the_file() {
        let settings = Settings::read(
            "database_url = 'postgres://file/db'\nlisten = '127.0.0.1:1'\nconnections = 3",
            &environment(&[("STILLROOM_LISTEN", "127.0.0.1:2")]),
        )
        .unwrap();
        assert_eq!(settings.listen.port(), 2);
        assert_eq!(settings.database_url, "postgres://file/db");
        assert_eq!(settings.connections, 3);
        assert_eq!(settings.migration_database_url, settings.database_url);
    }

    #[test]
    fn what_is_missing_or_wrong_is_named_with_its_cure() {
        let missing = Settings::read("", &environment(&[])).unwrap_err().to_string();
        assert!(missing.starts_with("DATABASE_URL: name the database"), "{missing}");
        let wrong = Settings::read("", &environment(&[("DATABASE_URL", "x"), ("STILLROOM_LISTEN", "here")]));
        assert!(wrong.unwrap_err().to_string().contains("\"here\" is not an address and port"));
        assert!(
            Settings::read("lissten = 'x'", &environment(&[])).unwrap_err().to_string().contains("lissten")
        );
    }

    #[test]
    fn the_example_file_is_a_configuration() {
        let file = include_str!("../../../deploy/stillroom.example.toml");
        Settings::read(file, &environment(&[])).unwrap();
    }
}
