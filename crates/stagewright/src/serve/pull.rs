//! Diagnostics of a document as the answer to a request, for a client that would rather ask. The name of an answer is made of what it says,
//! so that nothing has to be kept to tell that nothing has changed.

use std::hash::{DefaultHasher, Hash, Hasher};

use serde::Serialize;
use serde_json::{Value, json};

use super::bench::View;
use super::check::{Depth, look};
use super::work::{Context, Feature};

/// The request.
#[derive(Debug)]
pub struct Pull {
    /// The document.
    pub uri: String,
    /// The name of the answer that the client has.
    pub previous: Option<String>,
}

/// The answer. Of a document that is not open there is nothing to say.
#[derive(Debug, Serialize)]
#[serde(transparent)]
pub struct Report(pub Value);

impl Default for Report {
    fn default() -> Self {
        report(b"[]", None)
    }
}

/// The name of a list that is written as JSON.
pub fn name_of(list: &[u8]) -> String {
    let mut hasher = DefaultHasher::new();
    list.hash(&mut hasher);
    format!("{:x}", hasher.finish())
}

/// A report on a document for a client that has the list of that name.
pub fn report(list: &[u8], previous: Option<&str>) -> Report {
    let name = name_of(list);
    if previous == Some(&*name) {
        return Report(json!({ "kind": "unchanged", "resultId": name }));
    }
    let items: Value = serde_json::from_slice(list).unwrap_or_else(|_| json!([]));
    Report(json!({ "kind": "full", "resultId": name, "items": items }))
}

impl Feature for Pull {
    type Answer = Report;
    const METHOD: &'static str = "textDocument/diagnostic";
    fn uri(&self) -> &str {
        &self.uri
    }
    fn compute<V: View>(&self, view: &V, context: &Context) -> Report {
        let found = look(view, context, Depth::Typed);
        let answer = report(&found.list, self.previous.as_deref());
        context.tell.pulled(&context.uri, context.version, name_of(&found.list));
        answer
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_answer_that_the_client_has_is_not_sent_again() {
        let list = br#"[{"message":"a value is missing"}]"#;
        let Report(first) = report(list, None);
        assert_eq!((&first["kind"], &first["items"][0]["message"]), (&json!("full"), &json!("a value is missing")));
        let name = first["resultId"].as_str();
        assert_eq!(report(list, name).0, json!({ "kind": "unchanged", "resultId": name }));
        assert_eq!(report(b"[]", name).0["items"], json!([]));
    }
}
