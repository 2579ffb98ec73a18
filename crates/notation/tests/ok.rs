//! Whole designs: every line of the files in `tests/ok` reads without a fault.

use std::path::Path;

use notation::tree::Grade;
use notation::{lay_out, read_entry, read_heading};

#[test]
fn whole_designs_read_without_a_fault() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/ok");
    let mut complaints = Vec::new();
    let mut files = 0;
    for file in std::fs::read_dir(folder).unwrap() {
        let path = file.unwrap().path();
        let text = std::fs::read_to_string(&path).unwrap();
        files += 1;
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let layout = lay_out(&text);
        assert!(layout.faults.is_empty(), "{name}");
        for block in &layout.blocks {
            let kind = block.kind.unwrap_or_else(|| panic!("{name} begins with an entry"));
            let heading = block.heading.as_ref().unwrap();
            let head = &text[heading.range.clone()];
            let read = read_heading(head);
            if read.grade != Grade::Whole || read.fault.is_some() || heading.fault.is_some() {
                complaints.push(format!("{name}: {head}\n  {:?} {:?}", read.fault, heading.fault));
            }
            for chunk in &block.entries {
                let entry = &text[chunk.range.clone()];
                let read = read_entry(kind, entry);
                if read.grade != Grade::Whole || read.fault.is_some() || chunk.fault.is_some() {
                    complaints.push(format!("{name}: {entry}\n  {:?} {:?} {:?}", read.grade, read.fault, chunk.fault));
                }
                if !read.strays.names.is_empty() || !read.strays.parts.is_empty() {
                    complaints.push(format!("{name}: {entry}\n  strays {:?}", read.strays));
                }
            }
        }
    }
    assert!(files >= 16);
    assert!(complaints.is_empty(), "{}", complaints.join("\n"));
}
