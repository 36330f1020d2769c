//! The settings of the service: a TOML file, overridden by the environment, over defaults. `config` decides which wins.

use std::collections::BTreeMap;
use std::fmt::Display;
use std::net::{IpAddr, SocketAddr};
use std::num::NonZeroU32;
use std::path::PathBuf;
use std::str::FromStr;
use std::time::Duration;

use clinic::PoolSettings;
use clinic::photographs::Home;
use clinic::retention::Retention;
use config::builder::DefaultState;
use config::{Config, ConfigBuilder, ConfigError, File, FileFormat};
use serde::de::Error;
use serde::{Deserialize, Deserializer};
use url::Url;

mod home;

/// Names the settings file.
const FILE: &str = "STILLROOM_CONFIG";

/// A setting's names, and what it accepts.
struct Setting {
    in_environment: &'static str,
    in_file: &'static str,
    cure: &'static str,
}

const fn setting(in_environment: &'static str, in_file: &'static str, cure: &'static str) -> Setting {
    Setting { in_environment, in_file, cure }
}

const OWNER: Setting = setting(
    "MIGRATION_DATABASE_URL",
    "migration_database_url",
    "Name the database under its owner, such as postgres://owner@localhost/stillroom, and the service's own login in \
     DATABASE_URL",
);

const SETTINGS: [Setting; 20] = [
    setting(
        "DATABASE_URL",
        "database_url",
        "Name the database, such as postgres://user@localhost/stillroom; ./deploy/up sets one up",
    ),
    OWNER,
    setting("STILLROOM_LISTEN", "listen", "Enter an IP address and a port, such as 127.0.0.1:8080"),
    setting("STILLROOM_PUBLIC_URL", "public_url", "Enter an address, such as https://clinic.example"),
    setting(
        "STILLROOM_SIGNING_KEYS",
        "signing_keys",
        "Enter the paths of key files: a list in the file, separated by colons in the environment",
    ),
    setting(
        "STILLROOM_TRUSTED_PROXIES",
        "trusted_proxies",
        "Enter IP addresses, such as 10.0.0.2: a list in the file, separated by commas in the environment",
    ),
    setting(
        "STILLROOM_REQUESTS_PER_SECOND",
        "requests_per_second",
        "Enter a whole number, such as 50, or 0 for no limit",
    ),
    setting("STILLROOM_CONNECTIONS", "connections", "Enter a whole number from 1 to 1000"),
    setting(
        "STILLROOM_WAIT_MILLISECONDS",
        "wait_milliseconds",
        "Enter a whole number of milliseconds, such as 5000",
    ),
    setting(
        "STILLROOM_CALCULATION_MILLISECONDS",
        "calculation_milliseconds",
        "Enter a whole number of milliseconds, such as 5000",
    ),
    setting("STILLROOM_WORKERS", "workers", "Enter a whole number from 1 to 1000"),
    setting(
        "STILLROOM_KEEP_REPEATS_DAYS",
        "keep_repeats_days",
        "Enter a whole number of days from 1 to 3650",
    ),
    setting(
        "STILLROOM_KEEP_REFRESH_TOKENS_DAYS",
        "keep_refresh_tokens_days",
        "Enter a whole number of days from 15 to 3650",
    ),
    setting(
        "STILLROOM_KEEP_SECURITY_EVENTS_DAYS",
        "keep_security_events_days",
        "Enter a whole number of days from 30 to 3650",
    ),
    setting(
        "STILLROOM_BODY_MILLISECONDS",
        "body_milliseconds",
        "Enter a whole number of milliseconds, such as 10000",
    ),
    setting(
        "STILLROOM_METRICS_LISTEN",
        "metrics_listen",
        "Enter an IP address and a port that only the monitoring can reach, such as 127.0.0.1:9464, or omit it",
    ),
    setting(
        "STILLROOM_OTLP_ENDPOINT",
        "otlp_endpoint",
        "Enter the base address of a collector that takes OTLP over HTTP, such as http://127.0.0.1:4318, without user name, \
         password, query or fragment, or omit it",
    ),
    setting(
        "STILLROOM_PHOTOGRAPHS",
        "photographs",
        "Enter a folder, such as /var/lib/stillroom/photographs, or the address of a bucket that is spoken to by the S3 \
         protocol, such as s3+https://store.example/bucket/prefix",
    ),
    setting(
        "STILLROOM_PHOTOGRAPHS_REGION",
        "photographs_region",
        "Enter the region that the store of the bucket is in, such as us-east-1",
    ),
    setting(
        "STILLROOM_PHOTOGRAPHS_KEY",
        "photographs_key",
        "Enter the path of a file with the ID of the bucket's key on the first line and its secret on the second",
    ),
];

/// The settings of the service.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// Where the database is. Its login may act as `stillroom_service` and needs no other right.
    pub database_url: String,
    /// Where the database is for migrations, under its owner and not through a pooler. Only migrations need it.
    #[serde(default)]
    pub migration_database_url: String,
    /// The address to listen on.
    pub listen: SocketAddr,
    /// The address the service is known by: the issuer of its tokens. The address to listen on if none is set.
    #[serde(default, deserialize_with = "address")]
    pub public_url: String,
    /// The same, where it is set: codes on jars lead there, and not to an address that only this machine knows.
    #[serde(skip)]
    pub stated_url: Option<String>,
    /// Files with signing keys; the first signs, all verify.
    #[serde(deserialize_with = "separated_by_colons")]
    pub signing_keys: Vec<PathBuf>,
    /// Proxies whose `X-Forwarded-For` is believed.
    #[serde(deserialize_with = "separated_by_commas")]
    pub trusted_proxies: Vec<IpAddr>,
    /// How many requests a second one caller may make on average; `None` for no limit.
    #[serde(deserialize_with = "rate")]
    pub requests_per_second: Option<NonZeroU32>,
    /// How many database connections at most, apart from one a worker for reading.
    #[serde(deserialize_with = "up_to_a_thousand")]
    pub connections: usize,
    /// How many worker threads.
    #[serde(deserialize_with = "up_to_a_thousand")]
    pub workers: usize,
    /// How long a request waits for a connection before it is answered 503.
    #[serde(rename = "wait_milliseconds", deserialize_with = "milliseconds")]
    pub wait: Duration,
    /// For how many days a creating request may be repeated without doing anything twice.
    #[serde(deserialize_with = "days_from::<1, _>")]
    pub keep_repeats_days: u16,
    /// For how many days a refresh token is kept after it was issued, so that its second use is recognised. A session
    /// lasts fourteen.
    #[serde(deserialize_with = "days_from::<15, _>")]
    pub keep_refresh_tokens_days: u16,
    /// For how many days a security event is kept. The database lets nobody remove one within thirty.
    #[serde(deserialize_with = "days_from::<30, _>")]
    pub keep_security_events_days: u16,
    /// How long a calculation may take before it is stopped and its request answered 503.
    #[serde(rename = "calculation_milliseconds", deserialize_with = "milliseconds")]
    pub calculation: Duration,
    /// How long a request's body may take to arrive before it is answered 408.
    #[serde(rename = "body_milliseconds", deserialize_with = "milliseconds")]
    pub body_time: Duration,
    /// The address that `/metrics` is served on; `None` for no metrics.
    #[serde(default, deserialize_with = "some")]
    pub metrics_listen: Option<SocketAddr>,
    /// The base address of the collector that spans are exported to, as `/v1/traces` under it; `None` for no export.
    #[serde(default, deserialize_with = "collector")]
    pub otlp_endpoint: Option<Url>,
    /// Where the files of photographs are kept: a folder, or the address of a bucket.
    pub photographs: String,
    /// The region that requests to the bucket are signed for.
    pub photographs_region: String,
    /// The file with the key of the bucket. Only a bucket needs it.
    #[serde(default)]
    pub photographs_key: Option<PathBuf>,
}

/// What is wrong with the settings, and the cure. Never quotes a database's address, which may hold a password.
#[derive(Debug, thiserror::Error)]
pub enum SettingsError {
    /// The file cannot be read, or is not a file of settings.
    #[error("The settings file {path} cannot be used: {problem}")]
    File {
        /// The file, as `STILLROOM_CONFIG` names it.
        path: String,
        /// Why.
        problem: String,
    },
    /// A setting is missing or has a value that cannot be used.
    #[error("{name} (`{in_file}` in the settings file): {problem}. {cure}.")]
    Value {
        /// The setting's name in the environment.
        name: &'static str,
        /// The setting's name in the file.
        in_file: &'static str,
        /// What is wrong.
        problem: String,
        /// What is accepted.
        cure: &'static str,
    },
}

impl Settings {
    /// Reads the environment and, if `STILLROOM_CONFIG` names one, the file.
    ///
    /// # Errors
    /// Returns `SettingsError::File` for a file that cannot be read or parsed or that has an unknown setting, and
    /// `SettingsError::Value` for a setting that is missing or invalid.
    pub fn load() -> Result<Self, SettingsError> {
        let environment: BTreeMap<String, String> = std::env::vars().collect();
        let file = match environment.get(FILE) {
            None => String::new(),
            Some(path) => std::fs::read_to_string(path)
                .map_err(|error| SettingsError::File { path: path.clone(), problem: error.to_string() })?,
        };
        Self::read(&file, &environment)
    }

    /// Reads a file's text and an environment. An empty variable counts as absent.
    ///
    /// # Errors
    /// As [`Settings::load`].
    pub fn read(file: &str, environment: &BTreeMap<String, String>) -> Result<Self, SettingsError> {
        let explained = |error| explained(file, environment, error);
        let mut builder = defaults(Config::builder())
            .map_err(explained)?
            .add_source(File::from_str(file, FileFormat::Toml));
        for Setting { in_environment, in_file, .. } in SETTINGS {
            let value = environment.get(in_environment).filter(|text| !text.is_empty());
            builder = builder.set_override_option(in_file, value.cloned()).map_err(explained)?;
        }
        let mut settings: Self = builder.build().and_then(Config::try_deserialize).map_err(explained)?;
        if settings.public_url.is_empty() {
            settings.public_url = format!("http://{}", settings.listen);
        } else {
            settings.stated_url = Some(settings.public_url.clone());
        }
        Ok(settings)
    }

    /// The address of the database for migrations.
    ///
    /// # Errors
    /// Returns `SettingsError::Value` if none is set: the service's login never stands in for the owner's.
    pub fn owner_url(&self) -> Result<&str, SettingsError> {
        let Setting { in_environment, in_file, cure } = &OWNER;
        match self.migration_database_url.as_str() {
            "" => {
                Err(SettingsError::Value { name: in_environment, in_file, problem: "not set".into(), cure })
            }
            url => Ok(url),
        }
    }

    /// Where the files of photographs are kept, with the key of a bucket.
    ///
    /// # Errors
    /// Returns `SettingsError::Value` for an address that is none of a bucket, and for a bucket whose key is missing or cannot
    /// be read.
    pub fn home_of_photographs(&self) -> Result<Home, SettingsError> {
        home::of_photographs(&self.photographs, &self.photographs_region, self.photographs_key.as_deref())
            .map_err(|(in_file, problem)| value_error(in_file, problem))
    }

    /// How the pool is made.
    #[must_use]
    pub fn pool(&self) -> PoolSettings {
        PoolSettings { url: self.database_url.clone(), size: self.connections, wait: self.wait }
    }

    /// How long rows are kept that are needed for a time only.
    #[must_use]
    pub const fn retention(&self) -> Retention {
        Retention {
            repeats: self.keep_repeats_days,
            refresh_tokens: self.keep_refresh_tokens_days,
            security_events: self.keep_security_events_days,
        }
    }
}

/// What is said of a setting that cannot be used.
fn value_error(of: &str, problem: String) -> SettingsError {
    match SETTINGS.iter().find(|setting| setting.in_file == of) {
        Some(Setting { in_environment, in_file, cure }) => {
            SettingsError::Value { name: in_environment, in_file, problem, cure }
        }
        None => SettingsError::File { path: String::new(), problem },
    }
}

fn defaults(builder: ConfigBuilder<DefaultState>) -> Result<ConfigBuilder<DefaultState>, ConfigError> {
    let cores = std::thread::available_parallelism().map_or(2, std::num::NonZero::get);
    let whole = |number: usize| u64::try_from(number).unwrap_or(u64::MAX);
    builder
        .set_default("listen", "127.0.0.1:8080")?
        .set_default("signing_keys", Vec::<String>::new())?
        .set_default("trusted_proxies", Vec::<String>::new())?
        .set_default("requests_per_second", 50)?
        .set_default("connections", whole(cores.saturating_mul(8)))?
        .set_default("wait_milliseconds", 5000)?
        .set_default("body_milliseconds", 10_000)?
        .set_default("calculation_milliseconds", 5000)?
        .set_default("workers", whole(cores))?
        .set_default("keep_repeats_days", 30)?
        .set_default("keep_refresh_tokens_days", 15)?
        .set_default("keep_security_events_days", 180)?
        .set_default("photographs", "photographs")?
        .set_default("photographs_region", "us-east-1")
}

/// The library's error with the setting's name in the environment, and the cure.
fn explained(file: &str, environment: &BTreeMap<String, String>, error: ConfigError) -> SettingsError {
    let (key, problem) = match &error {
        ConfigError::NotFound(key) => (Some(key), "not set".to_owned()),
        ConfigError::At { key, error, .. } => (key.as_ref(), error.to_string()),
        ConfigError::Type { key, unexpected, expected, .. } => {
            (key.as_ref(), format!("invalid type: {unexpected}, expected {expected}"))
        }
        ConfigError::FileParse { cause, .. } => (None, syntax(file, cause.as_ref())),
        other => (None, other.to_string()),
    };
    let named = |setting: &&Setting| key.is_some_and(|key| key.split('[').next() == Some(setting.in_file));
    match SETTINGS.iter().find(named) {
        Some(Setting { in_environment, in_file, cure }) => {
            SettingsError::Value { name: in_environment, in_file, problem, cure }
        }
        None => SettingsError::File { path: environment.get(FILE).cloned().unwrap_or_default(), problem },
    }
}

/// Says where the TOML is wrong without the line itself, which may hold a password.
fn syntax(file: &str, cause: &(dyn std::error::Error + Send + Sync + 'static)) -> String {
    let Some(error) = cause.downcast_ref::<toml::de::Error>() else { return cause.to_string() };
    let before = error.span().and_then(|span| file.get(..span.start)).unwrap_or_default();
    format!("line {}: {}", before.matches('\n').count() + 1, error.message())
}

/// A number from the file, or its digits from the environment. The library alone would round a fraction.
#[derive(Deserialize)]
#[serde(untagged, expecting = "not a whole number")]
enum Whole {
    Number(u64),
    Digits(String),
}

fn whole<'de, D: Deserializer<'de>, T: TryFrom<u64>>(from: D) -> Result<T, D::Error> {
    let number = match Whole::deserialize(from)? {
        Whole::Number(number) => Some(number),
        Whole::Digits(digits) => digits.parse().ok(),
    };
    number
        .and_then(|number| T::try_from(number).ok())
        .ok_or_else(|| D::Error::custom("too large, or not a whole number"))
}

fn rate<'de, D: Deserializer<'de>>(from: D) -> Result<Option<NonZeroU32>, D::Error> {
    whole(from).map(NonZeroU32::new)
}

fn milliseconds<'de, D: Deserializer<'de>>(from: D) -> Result<Duration, D::Error> {
    whole(from).map(Duration::from_millis)
}

fn up_to_a_thousand<'de, D: Deserializer<'de>>(from: D) -> Result<usize, D::Error> {
    let number = whole(from)?;
    if (1..=1000).contains(&number) { Ok(number) } else { Err(D::Error::custom("out of range")) }
}

fn days_from<'de, const FEWEST: u16, D: Deserializer<'de>>(from: D) -> Result<u16, D::Error> {
    let days = whole(from)?;
    if (FEWEST..=3650).contains(&days) { Ok(days) } else { Err(D::Error::custom("out of range")) }
}

/// A value that may be left out.
fn some<'de, D, T>(from: D) -> Result<Option<T>, D::Error>
where
    D: Deserializer<'de>,
    T: FromStr<Err: Display>,
{
    String::deserialize(from)?.parse().map(Some).map_err(D::Error::custom)
}

/// An address, without the slash at its end.
fn address<'de, D: Deserializer<'de>>(from: D) -> Result<String, D::Error> {
    let text = String::deserialize(from)?;
    Url::parse(&text).map_err(D::Error::custom)?;
    Ok(text.trim_end_matches('/').to_owned())
}

/// An address to send to. The refusal never repeats it, since a password may stand in it.
fn collector<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Url>, D::Error> {
    let url = Url::parse(&String::deserialize(from)?).map_err(D::Error::custom)?;
    let web = matches!(url.scheme(), "http" | "https");
    let plain = url.username().is_empty() && url.password().is_none();
    let base = url.query().is_none() && url.fragment().is_none();
    if web && plain && base {
        Ok(Some(url))
    } else {
        Err(D::Error::custom("not the base address of a collector"))
    }
}

/// A list from the file, or its items in one text from the environment.
#[derive(Deserialize)]
#[serde(untagged, expecting = "not a list of texts")]
enum List {
    Items(Vec<String>),
    Joined(String),
}

fn list<'de, D, T>(from: D, separator: char) -> Result<Vec<T>, D::Error>
where
    D: Deserializer<'de>,
    T: FromStr<Err: Display>,
{
    let items = match List::deserialize(from)? {
        List::Items(items) => items,
        List::Joined(text) => text.split(separator).map(|item| item.trim().to_owned()).collect(),
    };
    items.iter().map(|item| item.parse().map_err(D::Error::custom)).collect()
}

fn separated_by_colons<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<PathBuf>, D::Error> {
    list(from, ':')
}

fn separated_by_commas<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<IpAddr>, D::Error> {
    list(from, ',')
}

#[cfg(test)]
mod tests;
