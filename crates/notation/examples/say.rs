//! Reads `kind|entry` lines from standard input and prints grade, fault and tree of each; `heading|…` and `phrase|…` work too.

use notation::tree::Fault;
use notation::word::heading_kind;
use notation::{read_entry, read_heading, read_phrase};

fn main() {
    for line in std::io::stdin().lines().map_while(Result::ok) {
        let Some((kind, text)) = line.split_once('|') else { continue };
        let text = text.trim();
        println!("{kind} | {text}");
        match (kind.trim(), heading_kind(kind.trim())) {
            (_, Some(kind)) => {
                let e = read_entry(kind, text);
                println!("    {:?}  {}", e.grade, said(e.fault));
                println!("    {:?}", e.tree);
            }
            ("heading", _) => {
                let h = read_heading(text);
                println!("    {:?}  {}\n    {:?}", h.grade, said(h.fault), h.tree);
            }
            ("phrase", _) => {
                let (p, fault) = read_phrase(text);
                println!("    {}\n    {p:?}", said(fault));
            }
            _ => println!("    no such kind"),
        }
    }
}

fn said(fault: Option<Fault>) -> String {
    let Some(f) = fault else { return "-".into() };
    let fixes: Vec<&str> = f.fixes.iter().map(|f| &*f.title).collect();
    let unfinished = if f.unfinished { " …" } else { "" };
    format!("{}..{} {}: {}{unfinished} {fixes:?}", f.span.start, f.span.end, f.id, f.message)
}
