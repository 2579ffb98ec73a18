//! The program as a process: how it begins, how it ends, and what it says to whom.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};

use serde_json::{Value, json};

fn start(arguments: &[&str]) -> Child {
    Command::new(env!("CARGO_BIN_EXE_stagewright"))
        .args(arguments)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts")
}

fn send(to: &mut impl Write, message: &Value) {
    let body = message.to_string();
    write!(to, "Content-Length: {}\r\n\r\n{body}", body.len()).and_then(|()| to.flush()).expect("the server reads");
}

fn receive(from: &mut impl BufRead) -> Value {
    let mut length = 0;
    loop {
        let mut line = String::new();
        assert_ne!(from.read_line(&mut line).expect("the server writes"), 0, "the server left");
        match line.trim_end().strip_prefix("Content-Length: ") {
            Some(n) => length = n.parse().unwrap(),
            None if line.trim_end().is_empty() => break,
            None => {}
        }
    }
    let mut body = vec![0; length];
    from.read_exact(&mut body).expect("the server writes");
    serde_json::from_slice(&body).expect("JSON")
}

fn request(id: i64, method: &str, params: Value) -> Value {
    json!({ "jsonrpc": "2.0", "id": id, "method": method, "params": params })
}

fn notification(method: &str) -> Value {
    json!({ "jsonrpc": "2.0", "method": method })
}

fn begin(process: Value) -> Value {
    request(1, "initialize", json!({ "processId": process, "capabilities": {} }))
}

#[test]
fn a_polite_end_is_a_good_end() {
    let mut server = start(&["serve"]);
    let mut input = server.stdin.take().unwrap();
    let mut output = BufReader::new(server.stdout.take().unwrap());
    send(&mut input, &begin(Value::Null));
    assert_eq!(receive(&mut output)["result"]["serverInfo"]["name"], "stagewright");
    send(&mut input, &request(2, "shutdown", Value::Null));
    assert_eq!(receive(&mut output)["id"], 2);
    send(&mut input, &notification("exit"));
    // The input stays open: the program leaves because it was told to.
    assert_eq!(server.wait().unwrap().code(), Some(0));
    let mut rest = String::new();
    output.read_to_string(&mut rest).unwrap();
    assert_eq!(rest, "", "nothing but messages on standard output");
}

#[test]
fn exit_without_shutdown_is_a_bad_end() {
    let mut server = start(&["serve", "--stdio"]);
    let mut input = server.stdin.take().unwrap();
    send(&mut input, &begin(Value::Null));
    send(&mut input, &notification("exit"));
    assert_eq!(server.wait().unwrap().code(), Some(1));
}

#[test]
fn a_closed_pipe_ends_the_program() {
    let mut server = start(&["serve"]);
    drop(server.stdin.take());
    assert_eq!(server.wait().unwrap().code(), Some(1));
}

#[cfg(unix)]
#[test]
fn the_program_does_not_outlive_the_clients_process() {
    let mut client = Command::new("sleep").arg("600").spawn().expect("a process to look after");
    let mut server = start(&["serve"]);
    let mut input = server.stdin.take().unwrap();
    let mut output = BufReader::new(server.stdout.take().unwrap());
    send(&mut input, &begin(json!(client.id())));
    receive(&mut output);
    assert_eq!(server.try_wait().unwrap(), None, "while the client lives");
    client.kill().unwrap();
    client.wait().unwrap();
    // The pipe stays open: somebody else holds it, as this test does.
    assert_eq!(server.wait().unwrap().code(), Some(1));
    drop(input);
}

#[test]
fn a_client_may_come_over_a_socket() {
    let mut server = start(&["serve", "--socket", "0"]);
    let mut said = BufReader::new(server.stderr.take().unwrap());
    let mut line = String::new();
    said.read_line(&mut line).unwrap();
    let address = line.trim().rsplit(' ').next().unwrap();
    assert!(address.starts_with("127.0.0.1:"), "on loopback only: {line}");
    let mut input = TcpStream::connect(address).expect("it waits");
    let mut output = BufReader::new(input.try_clone().unwrap());
    send(&mut input, &begin(Value::Null));
    receive(&mut output);
    send(&mut input, &request(2, "shutdown", Value::Null));
    receive(&mut output);
    send(&mut input, &notification("exit"));
    assert_eq!(server.wait().unwrap().code(), Some(0));
}

#[test]
fn help_teaches_and_a_slip_is_told() {
    let output = start(&["--help"]).wait_with_output().unwrap();
    let help = String::from_utf8(output.stdout).unwrap();
    for word in ["serve", "show", "check", "read", "format", "stage preamp: in -> out", "Examples:"] {
        assert!(help.contains(word), "{word} is missing in\n{help}");
    }
    let output = start(&["sevre"]).wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(String::from_utf8(output.stderr).unwrap().contains("serve"), "the likely word is named");
}

/// The design that the help shows is one: it has figures and no problems.
#[test]
fn the_design_in_the_help_is_a_design() {
    let output = start(&["--help"]).wait_with_output().unwrap();
    let help = String::from_utf8(output.stdout).unwrap();
    let design: Vec<_> =
        help.lines().filter_map(|line| line.strip_prefix("    ")).take_while(|line| !line.is_empty()).take(5).collect();
    let mut server = start(&["serve"]);
    let mut input = server.stdin.take().unwrap();
    let mut output = BufReader::new(server.stdout.take().unwrap());
    send(&mut input, &begin(Value::Null));
    receive(&mut output);
    let document = json!({ "uri": "untitled:help", "languageId": "stage", "version": 1, "text": design.join("\n") });
    let opened = json!({ "jsonrpc": "2.0", "method": "textDocument/didOpen", "params": { "textDocument": document } });
    send(&mut input, &opened);
    let published = receive(&mut output);
    assert_eq!(published["params"]["diagnostics"], json!([]), "of\n{}", design.join("\n"));
    let whole = json!({ "start": { "line": 0, "character": 0 }, "end": { "line": 9, "character": 0 } });
    send(
        &mut input,
        &request(2, "textDocument/inlayHint", json!({ "textDocument": { "uri": "untitled:help" }, "range": whole })),
    );
    let hints = receive(&mut output);
    assert!(!hints["result"].as_array().unwrap().is_empty(), "{hints}");
    server.kill().unwrap();
    server.wait().unwrap();
}
