//! The files of photographs: in a folder, or in a store that speaks the S3 protocol.
//!
//! A file is named by the id of its photograph, whose first bits are its time, and is written once. What was kept is on disk:
//! a folder is synchronised, a store has acknowledged it. Never here: the address or the secret of a store in an error.

use std::fmt;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use chrono::{DateTime, Utc};
use futures_util::TryStreamExt;
use object_store::aws::AmazonS3Builder;
use object_store::local::LocalFileSystem;
use object_store::path::Path;
use object_store::prefix::PrefixStore;
use object_store::{ClientOptions, ObjectStore, ObjectStoreExt, RetryConfig};
use sha2::{Digest, Sha256};
use store::{Error, Result};
use tokio::sync::OnceCell;
use url::Url;
use uuid::Uuid;

use crate::picture::Developed;

/// How long a store may take to answer one request.
const STORE_TIME: Duration = Duration::from_secs(15);

/// Where files are kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Home {
    /// In this folder. It is made when the first file is kept.
    Folder(PathBuf),
    /// In a store that speaks the S3 protocol.
    Bucket(Bucket),
}

/// A bucket of a store that speaks the S3 protocol.
#[derive(Clone, PartialEq, Eq)]
pub struct Bucket {
    /// The address of the store.
    pub endpoint: Url,
    /// The region that requests are signed for.
    pub region: String,
    /// The name of the bucket.
    pub bucket: String,
    /// What the names of all files begin with; may be empty.
    pub prefix: String,
    /// Whose key signs the requests.
    pub key_id: String,
    /// The key.
    pub secret: String,
}

impl fmt::Debug for Bucket {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Bucket").field("bucket", &self.bucket).finish_non_exhaustive()
    }
}

/// Which of the two files of a photograph.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Size {
    /// The photograph.
    Whole,
    /// Its preview.
    Preview,
}

/// The name of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Name {
    /// The photograph.
    pub id: Uuid,
    /// Which of its files.
    pub size: Size,
}

impl Name {
    fn path(self) -> Path {
        let kind = match self.size {
            Size::Whole => "",
            Size::Preview => ".preview",
        };
        Path::from(format!("{}{kind}.jpg", self.id))
    }

    /// The name that a path says; nothing for what we did not name.
    fn read(path: &Path) -> Option<Self> {
        let name = path.filename()?.strip_suffix(".jpg")?;
        let (id, size) = match name.strip_suffix(".preview") {
            Some(id) => (id, Size::Preview),
            None => (name, Size::Whole),
        };
        let id: Uuid = id.parse().ok()?;
        Some(Self { id, size }).filter(|name| name.path() == *path)
    }
}

/// What a file is, beside what it should be.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Found {
    /// It is what was kept.
    Kept,
    /// It is not there.
    Missing,
    /// It is something else.
    Changed,
}

/// The files of photographs.
pub struct Files {
    home: Home,
    store: OnceCell<Arc<dyn ObjectStore>>,
}

impl fmt::Debug for Files {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Files").field("home", &self.home).finish_non_exhaustive()
    }
}

fn unavailable(error: object_store::Error) -> Error {
    Error::FilesUnavailable(error.into())
}

impl Files {
    /// Files that are kept there. Nothing is opened before it is needed.
    #[must_use]
    pub fn at(home: Home) -> Self {
        Self { home, store: OnceCell::new() }
    }

    async fn store(&self) -> Result<&dyn ObjectStore> {
        let open = async || match &self.home {
            Home::Folder(folder) => {
                let folder = folder.clone();
                let opened = tokio::task::spawn_blocking(move || open_folder(&folder)).await;
                opened.map_err(|fault| Error::Internal(fault.into()))?
            }
            Home::Bucket(bucket) => open_bucket(bucket),
        };
        Ok(self.store.get_or_try_init(open).await?.as_ref())
    }

    /// Whether files can be kept and found there.
    ///
    /// # Errors
    /// Returns [`Error::FilesUnavailable`] if not.
    pub async fn ready(&self) -> Result<()> {
        let store = self.store().await?;
        store.list(None).try_next().await.map_err(unavailable)?;
        Ok(())
    }

    /// Keeps both files of a photograph. Returns when they are on disk.
    ///
    /// # Errors
    /// Returns [`Error::FilesUnavailable`] if the folder or the store does not take them.
    pub async fn keep(&self, id: Uuid, developed: &Developed) -> Result<()> {
        let store = self.store().await?;
        for (size, drawn) in [(Size::Preview, developed.preview()), (Size::Whole, developed.picture())] {
            let bytes = drawn.bytes().to_vec();
            store.put(&Name { id, size }.path(), bytes.into()).await.map_err(unavailable)?;
        }
        Ok(())
    }

    /// A file, if it is what was kept.
    ///
    /// # Errors
    /// Returns [`Error::Gone`] if it is missing or was changed, and [`Error::FilesUnavailable`] if the store does not answer.
    pub async fn read(&self, name: Name, length: u64, sha256: &[u8]) -> Result<Vec<u8>> {
        let store = self.store().await?;
        let gone = |what: &str| {
            tracing::error!(photograph = %name.id, size = ?name.size, what, "the file of a photograph cannot be shown");
            Error::Gone(format!(
                "The file of this photograph {what}. It is not shown. Ask an administrator to restore it from a backup."
            ))
        };
        let found = match store.get(&name.path()).await {
            Err(object_store::Error::NotFound { .. }) => return Err(gone("is missing")),
            other => other.map_err(unavailable)?,
        };
        // Before it is read, so that memory does not depend on what somebody put in its place.
        if found.meta.size != length {
            return Err(gone("was changed"));
        }
        let bytes = found.bytes().await.map_err(unavailable)?;
        if Sha256::digest(&bytes)[..] != *sha256 {
            return Err(gone("was changed"));
        }
        Ok(bytes.into())
    }

    /// Whether a file is there, with the length that was kept. Its bytes are not read.
    ///
    /// # Errors
    /// Returns [`Error::FilesUnavailable`] if the store does not answer.
    pub async fn stands(&self, name: Name, length: u64) -> Result<Found> {
        match self.store().await?.head(&name.path()).await {
            Err(object_store::Error::NotFound { .. }) => Ok(Found::Missing),
            Err(error) => Err(unavailable(error)),
            Ok(meta) if meta.size != length => Ok(Found::Changed),
            Ok(_) => Ok(Found::Kept),
        }
    }

    /// What a file is, beside what was kept.
    ///
    /// # Errors
    /// Returns [`Error::FilesUnavailable`] if the store does not answer.
    pub async fn check(&self, name: Name, length: u64, sha256: &[u8]) -> Result<Found> {
        let store = self.store().await?;
        let found = match store.get(&name.path()).await {
            Err(object_store::Error::NotFound { .. }) => return Ok(Found::Missing),
            other => other.map_err(unavailable)?,
        };
        if found.meta.size != length {
            return Ok(Found::Changed);
        }
        let bytes = found.bytes().await.map_err(unavailable)?;
        Ok(if Sha256::digest(&bytes)[..] == *sha256 { Found::Kept } else { Found::Changed })
    }

    /// Removes both files of a photograph. What is not there is removed.
    ///
    /// # Errors
    /// Returns [`Error::FilesUnavailable`] if the store does not answer.
    pub async fn remove(&self, id: Uuid) -> Result<()> {
        let store = self.store().await?;
        for size in [Size::Whole, Size::Preview] {
            match store.delete(&Name { id, size }.path()).await {
                Ok(()) | Err(object_store::Error::NotFound { .. }) => {}
                Err(error) => return Err(unavailable(error)),
            }
        }
        Ok(())
    }

    /// The photographs of which there are files, and that came before a time. Files that we did not name are nobody's here.
    ///
    /// # Errors
    /// Returns [`Error::FilesUnavailable`] if the store does not answer.
    pub async fn before(&self, time: DateTime<Utc>) -> Result<Vec<Uuid>> {
        if let Home::Folder(folder) = &self.home
            && !folder.exists()
        {
            // Nothing was ever kept there; looking does not make it.
            return Ok(Vec::new());
        }
        let millis = u64::try_from(time.timestamp_millis()).unwrap_or(0);
        let store = self.store().await?;
        let mut listed = store.list(None);
        let mut found = Vec::new();
        while let Some(file) = listed.try_next().await.map_err(unavailable)? {
            let Some(name) = Name::read(&file.location) else { continue };
            let came = name.id.get_timestamp().map(|stamp| stamp.to_unix());
            let before = came.is_some_and(|(seconds, nanos)| {
                seconds.saturating_mul(1000).saturating_add(u64::from(nanos / 1_000_000)) < millis
            });
            if before {
                found.push(name.id);
            }
        }
        found.sort_unstable();
        found.dedup();
        Ok(found)
    }
}

fn open_folder(folder: &std::path::Path) -> Result<Arc<dyn ObjectStore>> {
    use std::os::unix::fs::DirBuilderExt;
    let mut builder = std::fs::DirBuilder::new();
    // Nobody else on the machine looks into it.
    builder.recursive(true).mode(0o700);
    builder.create(folder).map_err(|error| Error::FilesUnavailable(error.into()))?;
    let opened = LocalFileSystem::new_with_prefix(folder).map_err(unavailable)?;
    Ok(Arc::new(opened.with_fsync(true)))
}

fn open_bucket(bucket: &Bucket) -> Result<Arc<dyn ObjectStore>> {
    // Someone else may have chosen one before.
    rustls::crypto::ring::default_provider().install_default().ok();
    let client = ClientOptions::new().with_timeout(STORE_TIME).with_connect_timeout(STORE_TIME / 3);
    let retry = RetryConfig { max_retries: 2, retry_timeout: STORE_TIME, ..RetryConfig::default() };
    let opened = AmazonS3Builder::new()
        .with_client_options(client)
        .with_retry(retry)
        .with_endpoint(bucket.endpoint.as_str().trim_end_matches('/'))
        .with_allow_http(bucket.endpoint.scheme() == "http")
        .with_region(&bucket.region)
        .with_bucket_name(&bucket.bucket)
        .with_access_key_id(&bucket.key_id)
        .with_secret_access_key(&bucket.secret)
        // A plain DELETE, which every store knows.
        .with_disable_bulk_delete(true)
        .build()
        .map_err(unavailable)?;
    Ok(match bucket.prefix.is_empty() {
        true => Arc::new(opened),
        false => Arc::new(PrefixStore::new(opened, bucket.prefix.as_str())),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_named_by_its_photograph_and_read_back() {
        let id = Uuid::parse_str("0192d5c8-6f3a-7c41-9a3e-5b1d2f4c6e80").unwrap();
        for size in [Size::Whole, Size::Preview] {
            let name = Name { id, size };
            assert_eq!(Name::read(&name.path()), Some(name));
        }
        for other in ["notes.txt", "x.jpg", "0192D5C8-6F3A-7C41-9A3E-5B1D2F4C6E80.jpg", "a/b.jpg"] {
            assert_eq!(Name::read(&Path::from(other)), None, "{other}");
        }
    }
}
