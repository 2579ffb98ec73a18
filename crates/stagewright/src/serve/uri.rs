//! The name of a document in the workbench.

use std::str::FromStr;

use tower_lsp::ls_types::Uri;

/// The path of a `file:` address, so that two ways of writing one address are one document; the address itself of any other, as of
/// an `untitled:` document that no disk holds.
pub fn path_of(uri: &str) -> String {
    Uri::from_str(uri)
        .ok()
        .filter(|uri| uri.scheme().as_str().eq_ignore_ascii_case("file"))
        .and_then(|uri| uri.to_file_path().map(|path| path.to_string_lossy().into_owned()))
        .unwrap_or_else(|| uri.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_ways_of_writing_an_address_are_one_document() {
        assert_eq!(path_of("file:///bells/g%2Dsharp.stage"), path_of("file:///bells/g-sharp.stage"));
        assert_eq!(path_of("file:///bells/b%C3%A9.stage"), "/bells/bé.stage");
    }

    #[test]
    fn what_no_disk_holds_is_named_by_its_address() {
        assert_eq!(path_of("untitled:Untitled-1"), "untitled:Untitled-1");
        assert_eq!(path_of("no address at all"), "no address at all");
    }
}
