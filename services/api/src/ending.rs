//! The end of a connection whose caller was refused before the body was read. The server library would read the rest of
//! a chunked body for as long as it drips, or wait for ever where none comes.

use std::cell::{Cell, RefCell};
use std::rc::Rc;
use std::task::{Context, Waker};

/// Tells a connection that nothing more is read from it. One for each connection, found by requests as connection data.
#[derive(Clone, Default)]
pub struct Ending(Rc<State>);

#[derive(Default)]
struct State {
    ended: Cell<bool>,
    reader: RefCell<Option<Waker>>,
}

impl Ending {
    /// From now on nothing is read. Whoever waits to read is told.
    pub(crate) fn end(&self) {
        self.0.ended.set(true);
        if let Some(reader) = self.0.reader.take() {
            reader.wake();
        }
    }

    /// Whether the end has come. If not, the task of `cx` is woken when it does.
    #[must_use]
    pub fn has_come(&self, cx: &Context<'_>) -> bool {
        if self.0.ended.get() {
            return true;
        }
        let mut reader = self.0.reader.borrow_mut();
        if !reader.as_ref().is_some_and(|known| known.will_wake(cx.waker())) {
            *reader = Some(cx.waker().clone());
        }
        false
    }

    /// Whether the end has come.
    #[must_use]
    pub fn is_over(&self) -> bool {
        self.0.ended.get()
    }
}
