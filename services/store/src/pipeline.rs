//! Statements that are sent at once on one connection.

use std::future::Future;

/// Two statements that are sent at once and run one after the other. The first one that failed is the answer, whichever
/// answer arrives first: after a failure Postgres refuses every statement behind it, and that refusal tells nothing of
/// the cause. For this reason `tokio::try_join!`, which answers whatever fails first, is not used (`clippy.toml`).
///
/// # Errors
/// What the first statement answers, or else the second one.
pub async fn in_order<A, B, E>(
    first: impl Future<Output = Result<A, E>>,
    second: impl Future<Output = Result<B, E>>,
) -> Result<(A, B), E> {
    let (first, second) = tokio::join!(biased; first, second);
    Ok((first?, second?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn the_cause_is_answered_though_what_it_led_to_is_heard_of_first() {
        let (tell, heard) = tokio::sync::oneshot::channel();
        let cause = async {
            heard.await.ok();
            Err::<(), _>("violates a constraint")
        };
        let led_to = async {
            tell.send(()).ok();
            Err::<(), _>("the transaction is aborted")
        };
        assert_eq!(in_order(cause, led_to).await, Err("violates a constraint"));
    }
}
