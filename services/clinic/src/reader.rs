//! A worker's own connection for reads, shared and pipelined: many requests wait on it at once.

use std::cell::{Cell, RefCell};
use std::rc::Rc;

use diesel_async::AsyncPgConnection;

use crate::tx::Clinic;

/// A worker's reading connection. Opened when first needed, and again after it was lost.
#[derive(Default)]
pub struct Reader {
    conn: RefCell<Option<Rc<AsyncPgConnection>>>,
    opening: Cell<bool>,
}

impl Reader {
    /// The connection, or none while it is being opened or cannot be: the slow way serves meanwhile.
    pub(crate) async fn conn(&self, clinic: &Clinic) -> Option<Rc<AsyncPgConnection>> {
        if let Some(conn) = &*self.conn.borrow() {
            return Some(Rc::clone(conn));
        }
        if self.opening.replace(true) {
            return None;
        }
        let opened = clinic.reading_connection().await;
        self.opening.set(false);
        match opened {
            Ok(conn) => {
                let conn = Rc::new(conn);
                self.conn.replace(Some(Rc::clone(&conn)));
                Some(conn)
            }
            Err(error) => {
                tracing::warn!(%error, "no reading connection");
                None
            }
        }
    }

    /// Gives a connection up that did not answer; the next read opens another.
    pub(crate) fn lose(&self) {
        self.conn.replace(None);
    }
}
