//! A connection as the migrations use it, asked for content: that takes Diesel, on which no such crate depends.

async fn ask(url: &str) {
    let mut connection = clinic::connect(url).await.unwrap();
    let _ = connection.batch_execute("SELECT content FROM revision_content").await;
}

fn main() {}
