//! The manual's pages, and how a word finds its page.
//!
//! A page is a Markdown file below `pages/`, in the folder of its kind. It begins with its title; an `also:` line below it gives the
//! other words that lead here, a `see:` line the pages to read next; the text follows behind a blank line. Its first paragraph stands
//! alone, for a hover. Its blocks of notation are run by the tests, so what they show is what the program says.
//!
//! ```
//! let page = manual::find("corner").expect("an alias of low corner");
//! assert_eq!(page.title, "low corner");
//! assert_eq!(manual::find("no-bias-return").map(|p| p.kind), Some(manual::Kind::Rule));
//! assert_eq!(manual::nearest("haedroom"), ["headroom"]);
//! assert!(manual::short("gain").is_some_and(|t| t.starts_with("gain A -> B is the voltage at B over the voltage at A")));
//! ```

mod example;
mod find;
mod page;
mod plain;

pub use example::{Example, Intent};
pub use find::{find, nearest, pages, short};
pub use page::{Kind, Page};
