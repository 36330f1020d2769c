//! A grant, created without an acknowledgement.

use release::grants::{NewGrant, put};
use store::{Result, Tx};

async fn create<'t>(tx: &mut Tx<'t>, new: &NewGrant<'_, 't>) -> Result<()> {
    put(tx, new).await
}

fn main() {}
