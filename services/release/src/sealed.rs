//! Frozen content that was released to nobody yet.

use std::sync::Arc;

use canonical::Sha;
use store::{Error, Result};

use crate::released::Released;

/// Frozen content with the digest that names it. It can be kept and worked on while it stays sealed; only a proof that
/// names the same digest opens it.
pub struct Sealed<T> {
    digest: Sha,
    content: Arc<T>,
}

impl<T> Clone for Sealed<T> {
    fn clone(&self) -> Self {
        Self { digest: self.digest, content: Arc::clone(&self.content) }
    }
}

/// What proves that somebody may read the content that a digest names. Implemented by the proofs of this crate alone.
pub trait Opens: private::Proof {}

pub(crate) mod private {
    use canonical::Sha;

    /// A proof names the content that it is for.
    pub trait Proof {
        /// The digest of the content.
        fn digest(&self) -> &Sha;
    }
}

impl<P: private::Proof> Opens for P {}

/// Why content is read where no reader holds a grant. Nothing of it may reach a caller but what the exit's own rule
/// says is open. Every use stands on a list that a test counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// A label tells names, their order and what the law has it declare, and never a share.
    Label,
    /// Cautions and suitability are open; no text of theirs holds a computed figure.
    Cautions,
    /// Working caution sets out anew after a change.
    Renewal,
    /// Freezing what an author proposes, and what it is made from.
    Freezing,
    /// Comparing what was kept with what would be computed now.
    Verifying,
}

impl<T> Sealed<T> {
    /// Seals content under the digest that names it.
    #[must_use]
    pub fn new(digest: Sha, content: T) -> Self {
        Self { digest, content: Arc::new(content) }
    }

    /// The digest of the content.
    #[must_use]
    pub const fn digest(&self) -> &Sha {
        &self.digest
    }

    /// Releases the content to whoever holds the proof.
    ///
    /// # Errors
    /// [`Error::Internal`] when the proof is for other content.
    pub fn open(&self, proof: &impl Opens) -> Result<Released<Arc<T>>> {
        if proof.digest() == &self.digest {
            Ok(Released::new(Arc::clone(&self.content)))
        } else {
            Err(Error::internal("a proof was shown for other content than it is for"))
        }
    }

    /// Two contents that are sealed under the same digest, as one.
    ///
    /// # Errors
    /// [`Error::Internal`] when their digests differ.
    pub fn zip<U>(self, other: Sealed<U>) -> Result<Sealed<(Arc<T>, Arc<U>)>> {
        if self.digest == other.digest {
            Ok(Sealed::new(self.digest, (self.content, other.content)))
        } else {
            Err(Error::internal("contents of two digests were put together"))
        }
    }

    /// What is made of the content, sealed under the same digest.
    ///
    /// # Errors
    /// What `work` answers.
    pub async fn try_map<U>(self, work: impl AsyncFnOnce(&T) -> Result<U>) -> Result<Sealed<U>> {
        Ok(Sealed { digest: self.digest, content: Arc::new(work(&self.content).await?) })
    }

    /// Reads the content where no reader holds a grant. `exit` says why.
    #[must_use]
    pub fn exit(&self, _exit: Exit) -> Arc<T> {
        Arc::clone(&self.content)
    }
}
