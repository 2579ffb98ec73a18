//! `stagewright format` as a process: files and folders, standard input, what it writes and what it leaves alone.

use std::io::Write;
use std::path::Path;
use std::process::{Command, Output, Stdio};

const CROOKED: &str = "stage a: in->out\n in--R1 1k--out # a remark\n";
const LAID: &str = "stage a: in -> out\n  in -- R1 1k -- out    # a remark\n";

fn format(folder: &Path, arguments: &[&str], input: &[u8]) -> Output {
    let mut process = Command::new(env!("CARGO_BIN_EXE_stagewright"))
        .arg("format")
        .args(arguments)
        .current_dir(folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    // A program that leaves without reading closes the pipe; that is its right.
    let _ = process.stdin.take().unwrap().write_all(input);
    process.wait_with_output().unwrap()
}

fn said(output: &Output) -> (Option<i32>, &str, &str) {
    (
        output.status.code(),
        std::str::from_utf8(&output.stdout).expect("UTF-8"),
        std::str::from_utf8(&output.stderr).expect("UTF-8"),
    )
}

fn read(path: impl AsRef<Path>) -> String {
    std::fs::read_to_string(path).unwrap()
}

#[test]
fn what_is_crooked_is_written_and_nothing_else_is() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::create_dir(at("weir")).unwrap();
    std::fs::write(at("weir/crooked.stage"), CROOKED).unwrap();
    std::fs::write(at("weir/laid.stage"), LAID).unwrap();
    std::fs::write(at("weir/notes.txt"), CROOKED).unwrap();
    let before = std::fs::metadata(at("weir/laid.stage")).unwrap().modified().unwrap();
    let output = format(folder.path(), &["weir"], b"");
    let shown = "weir/crooked.stage: 2 lines\n2 designs: 1 laid out anew, 1 stays as it is\n";
    assert_eq!(said(&output), (Some(0), shown, ""));
    assert_eq!(read(at("weir/crooked.stage")), LAID);
    assert_eq!(read(at("weir/notes.txt")), CROOKED);
    assert_eq!(std::fs::metadata(at("weir/laid.stage")).unwrap().modified().unwrap(), before);
    let left: Vec<_> = std::fs::read_dir(at("weir")).unwrap().collect();
    assert_eq!(left.len(), 3, "nothing else is left behind: {left:?}");
    let again = format(folder.path(), &["weir", "--check"], b"");
    assert_eq!(said(&again), (Some(0), "2 designs: all stay as they are\n", ""));
}

#[test]
fn a_check_shows_what_would_change_and_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crooked.stage");
    std::fs::write(&path, CROOKED).unwrap();
    let output = format(folder.path(), &["crooked.stage", "--check"], b"");
    let shown = "--- crooked.stage\n+++ crooked.stage, laid out\n@@ -1,2 +1,2 @@\n-stage a: in->out\n- in--R1 1k--out # a remark\n+stage a: in -> out\n+  in -- R1 1k -- out    # a remark\n1 design: 1 would be laid out anew\n";
    assert_eq!(said(&output), (Some(1), shown, ""));
    assert_eq!(read(&path), CROOKED);
    std::fs::write(&path, "let\r\n  a = 1\r\n  b = 2\n").unwrap();
    let output = format(folder.path(), &["crooked.stage", "--check"], b"");
    let shown = "crooked.stage: every line would end with CRLF\n1 design: 1 would be laid out anew\n";
    assert_eq!(said(&output), (Some(1), shown, ""));
}

#[test]
fn standard_input_is_laid_out_on_standard_output() {
    let here = Path::new(".");
    assert_eq!(said(&format(here, &["-"], CROOKED.as_bytes())), (Some(0), LAID, ""));
    assert_eq!(said(&format(here, &["-", "--check"], LAID.as_bytes())), (Some(0), "", ""));
    assert_eq!(said(&format(here, &["-", "--check"], CROOKED.as_bytes())).0, Some(1));
    let output = format(here, &["-", "other.stage"], CROOKED.as_bytes());
    assert_eq!(said(&output).0, Some(2));
    assert!(said(&output).2.contains("stands alone"), "{output:?}");
    let output = format(here, &["-"], b"stage \xff");
    let why = "stagewright: standard input is not UTF-8 text: byte 6 is the first that is not. Save it as UTF-8.\n";
    assert_eq!(said(&output), (Some(2), "", why));
}

#[test]
fn what_is_no_text_stays_and_the_rest_is_done() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("bytes.stage"), b"let\n a=\xff\n").unwrap();
    std::fs::write(at("crooked.stage"), CROOKED).unwrap();
    let output = format(folder.path(), &["bytes.stage", "gone.stage", "crooked.stage"], b"");
    let (code, shown, why) = said(&output);
    assert_eq!(
        (code, shown),
        (Some(2), "crooked.stage: 2 lines\n1 design: 1 laid out anew; 2 files could not be laid out\n")
    );
    assert!(why.contains("bytes.stage is not UTF-8 text: byte 7"), "{why}");
    assert!(why.contains("gone.stage cannot be read: there is no such file"), "{why}");
    assert_eq!(std::fs::read(at("bytes.stage")).unwrap(), b"let\n a=\xff\n");
    assert_eq!(read(at("crooked.stage")), LAID);
}

#[test]
fn without_a_path_it_says_what_it_wants() {
    let output = format(Path::new("."), &[], b"");
    let (code, _, why) = said(&output);
    assert_eq!(code, Some(2));
    assert!(why.contains("PATH"), "{why}");
}

#[cfg(unix)]
#[test]
fn permissions_and_links_stay() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    std::fs::write(at("real.stage"), CROOKED).unwrap();
    std::fs::set_permissions(at("real.stage"), std::fs::Permissions::from_mode(0o640)).unwrap();
    symlink("real.stage", at("link.stage")).unwrap();
    let output = format(folder.path(), &["link.stage"], b"");
    assert_eq!(said(&output).0, Some(0), "{output:?}");
    assert_eq!(read(at("real.stage")), LAID);
    assert_eq!(std::fs::metadata(at("real.stage")).unwrap().permissions().mode() & 0o777, 0o640);
    assert!(std::fs::symlink_metadata(at("link.stage")).unwrap().is_symlink());
}
