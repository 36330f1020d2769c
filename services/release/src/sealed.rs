//! Frozen content that was released to nobody yet.

use std::sync::Arc;

use canonical::Sha;
use store::{Error, Result};

use crate::released::{ForRules, Released, ReleasedRecipe, Rendered};

/// Frozen content with the digest that names it. It can be kept while it stays sealed; only a proof that names the same
/// digest opens it. Only this crate seals: content that was read from the database and checked, under the digest that it
/// was checked against; what is made of sealed content, under its own digest; bytes that a grant to make opened,
/// under the digest of that grant; and the bytes of a batch's record, under the name of its state. So a proof for one revision never opens what was read for another. Work on sealed
/// content may bring in what its caller holds bare; that was released to the caller before, or came by a counted exit.
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

        /// The same digest, where it is proved that the reader may make what they read.
        fn to_make(&self) -> Option<Sha> {
            None
        }
    }
}

impl<P: private::Proof> Opens for P {}

pub(crate) fn sha(bytes: Vec<u8>) -> Result<Sha> {
    bytes.try_into().map_err(|_| Error::internal("a digest of the wrong length"))
}

/// Why content is read where no reader holds a grant. Nothing of it may reach a caller but what the exit's own rule
/// says is open. Every use stands on a list that a test counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Exit {
    /// A label tells names, their order and what the law has it declare, and never a share.
    Label,
    /// Working caution sets out anew after a change.
    Renewal,
    /// Evaluating frozen content with the facts of its materials. The result stays sealed.
    Evaluating,
    /// Comparing what was kept with what would be computed now.
    Verifying,
}

impl<T> Sealed<T> {
    pub(crate) fn new(digest: Sha, content: T) -> Self {
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
        let refused = || Error::internal("a proof was shown for other content than it is for");
        let is_of_it = proof.digest() == &self.digest;
        is_of_it.then(|| Released::new(Arc::clone(&self.content), proof.to_make())).ok_or_else(refused)
    }

    /// What is made of the content, sealed under the same digest. `exit` says why it is read: nothing keeps `work` from
    /// taking a copy.
    ///
    /// # Errors
    /// What `work` answers.
    pub async fn try_map<U>(self, _exit: Exit, work: impl AsyncFnOnce(&T) -> Result<U>) -> Result<Sealed<U>> {
        Ok(Sealed::new(self.digest, work(&self.content).await?))
    }

    /// Reads the content where no reader holds a grant. `exit` says why.
    #[must_use]
    pub fn exit(&self, _exit: Exit) -> Arc<T> {
        Arc::clone(&self.content)
    }
}

impl Sealed<Rendered> {
    /// Bytes that a grant to make opened, sealed again under the digest of that grant, to be kept for the next reader.
    /// None where another proof opened them: they may tell more than a grant to make shows.
    #[must_use]
    pub fn again(released: &ReleasedRecipe) -> Option<Self> {
        released.to_make().map(|digest| Self::new(*digest, released.content().again()))
    }
}
