//! The Merkle tree of RFC 6962, section 2.1, over the hashes of events in their public order.
//!
//! | what | how it is computed |
//! |---|---|
//! | root of nothing | SHA-256 of the empty string |
//! | leaf | SHA-256 of the byte 0x00 and the event's 32-byte hash |
//! | node | SHA-256 of the byte 0x01, the left and the right subtree's hash |
//! | root of n > 1 leaves | the node over the first k leaves and the rest, where k is the largest power of two below n |
//!
//! Leaves are pushed one by one; of n leaves at most log2(n) + 1 hashes are held. What never happens here: a query.

use canonical::Sha;
use sha2::{Digest, Sha256};

/// A tree that grows by one leaf at a time.
#[derive(Clone, Debug, Default)]
pub struct Tree {
    leaves: u64,
    /// The roots of the complete subtrees, the largest first: one for each bit that is set in the number of leaves.
    roots: Vec<Sha>,
}

impl Tree {
    /// Appends a leaf: the hash of an event.
    pub fn push(&mut self, data: &[u8]) {
        let mut root = leaf(data);
        // Two complete subtrees of one size become one, as carrying does in a binary counter.
        for _ in 0..self.leaves.trailing_ones() {
            if let Some(left) = self.roots.pop() {
                root = node(&left, &root);
            }
        }
        self.roots.push(root);
        self.leaves += 1;
    }

    /// How many leaves there are.
    #[must_use]
    pub const fn leaves(&self) -> u64 {
        self.leaves
    }

    /// The root over all leaves so far.
    #[must_use]
    pub fn root(&self) -> Sha {
        let mut subtrees = self.roots.iter().rev();
        let Some(last) = subtrees.next() else {
            return Sha256::digest(b"").into();
        };
        subtrees.fold(*last, |right, left| node(left, &right))
    }
}

fn leaf(data: &[u8]) -> Sha {
    Sha256::new().chain_update([0]).chain_update(data).finalize().into()
}

fn node(left: &Sha, right: &Sha) -> Sha {
    Sha256::new().chain_update([1]).chain_update(left).chain_update(right).finalize().into()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn root_of(leaves: &[Vec<u8>]) -> Sha {
        let mut tree = Tree::default();
        leaves.iter().for_each(|one| tree.push(one));
        tree.root()
    }

    /// RFC 6962, section 2.1, word by word: MTH of a list of n entries splits it at the largest power of two below n.
    fn by_definition(leaves: &[Vec<u8>]) -> Sha {
        match leaves {
            [] => Sha256::digest(b"").into(),
            [one] => leaf(one),
            many => {
                let mut split = 1;
                while split * 2 < many.len() {
                    split *= 2;
                }
                node(&by_definition(&many[..split]), &by_definition(&many[split..]))
            }
        }
    }

    /// The eight leaves of the Certificate Transparency reference implementation's tests and the roots over the first
    /// 0 to 8 of them (from memory; two independent computations below agree with them).
    #[test]
    fn roots_are_those_of_the_reference_implementation() {
        let leaves = [
            "",
            "00",
            "10",
            "2021",
            "3031",
            "40414243",
            "5051525354555657",
            "606162636465666768696a6b6c6d6e6f",
        ]
        .map(|leaf| hex::decode(leaf).unwrap());
        let roots = [
            "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
            "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
            "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
            "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
            "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
            "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
            "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
            "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
            "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
        ];
        for (count, root) in roots.into_iter().enumerate() {
            assert_eq!(hex::encode(root_of(&leaves[..count])), root, "{count} leaves");
            assert_eq!(hex::encode(by_definition(&leaves[..count])), root, "{count} leaves");
        }
    }

    #[test]
    fn no_more_than_one_hash_for_each_bit_is_held() {
        let mut tree = Tree::default();
        for number in 0..5000_u64 {
            tree.push(&number.to_be_bytes());
            assert_eq!(tree.roots.len(), usize::try_from(tree.leaves().count_ones()).unwrap());
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        /// Against the definition, and against an implementation of RFC 6962 that is not ours.
        #[test]
        fn a_streamed_root_is_the_root_by_definition_and_by_another_implementation(
            leaves in prop::collection::vec(prop::collection::vec(any::<u8>(), 0..40), 0..200)
        ) {
            let root = root_of(&leaves);
            prop_assert_eq!(root, by_definition(&leaves));
            let mut other = ct_merkle::mem_backed_tree::MemoryBackedTree::<Sha256, Vec<u8>>::new();
            leaves.into_iter().for_each(|leaf| other.push(leaf));
            let other = other.root();
            prop_assert_eq!(&root[..], other.as_bytes().as_slice());
        }
    }
}
