//! A browser without a window, driven over the pipes of its developer tools, so that a page can be
//! asked what it fetched, what it complained about, how wide it is and how it reads aloud.
//!
//! Messages are JSON, each ended by a zero byte, on the file descriptors 3 and 4 of the browser
//! (Chrome DevTools Protocol, `--remote-debugging-pipe`). Named pipes stand in for the descriptors.

use base64::Engine;
use crossbeam_channel::{Receiver, bounded};
use serde_json::{Value, json};
use std::collections::VecDeque;
use std::fs::{File, OpenOptions};
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use tempfile::TempDir;

/// No answer of the browser takes longer on the slowest machine.
const PATIENCE: Duration = Duration::from_secs(120);

/// Messages that may wait to be read; the browser waits beyond that.
const MESSAGES: usize = 4096;

/// What is asked of the browser so that it keeps to the page.
const QUIET: [&str; 12] = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--no-default-browser-check",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-extensions",
    "--remote-debugging-pipe",
];

/// A running browser with one page.
pub struct Browser {
    child: Child,
    to: File,
    from: Receiver<Value>,
    session: String,
    asked: u64,
    waiting: VecDeque<Value>,
    _folder: TempDir,
}

/// What happened while a page was loaded.
#[derive(Debug, Default)]
pub struct Loaded {
    /// Every address that was asked for, that of the page first.
    pub requests: Vec<String>,
    /// Everything on the console, and every breach of the page's own rules.
    pub complaints: Vec<String>,
}

impl Browser {
    /// Starts a browser; `None` if there is none on this machine.
    ///
    /// # Panics
    /// If it is there and does not start.
    pub fn start() -> Option<Self> {
        let there = Command::new("chromium")
            .arg("--version")
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status();
        there.ok().filter(std::process::ExitStatus::success)?;
        let folder = tempfile::tempdir().expect("a temporary folder");
        let pipe = |name: &str| {
            let path = folder.path().join(name);
            let made = Command::new("mkfifo").arg(&path).status();
            assert!(made.is_ok_and(|made| made.success()), "a pipe can be made");
            path
        };
        let (question, answer) = (pipe("to"), pipe("from"));
        // Opened for both directions, so that neither opening waits for the other end.
        let open = |path: &Path| {
            let opened = OpenOptions::new().read(true).write(true).open(path);
            opened.expect("the pipe opens")
        };
        let (to, from) = (open(&question), open(&answer));
        let child = Command::new("sh")
            .args(["-c", r#"exec chromium "$@" 3<"$TO" 4>"$FROM""#, "sh"])
            .args(QUIET)
            .arg(format!(
                "--user-data-dir={}",
                folder.path().join("user").display()
            ))
            .arg("about:blank")
            .env("TO", &question)
            .env("FROM", &answer)
            .env("HOME", folder.path())
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("a shell can be started");
        let mut browser = Self {
            child,
            to,
            from: listen(from),
            session: String::new(),
            asked: 0,
            waiting: VecDeque::new(),
            _folder: folder,
        };
        let page = browser.ask("Target.createTarget", json!({ "url": "about:blank" }));
        let attached = browser.ask(
            "Target.attachToTarget",
            json!({ "targetId": page["targetId"], "flatten": true }),
        );
        browser.session = attached["sessionId"]
            .as_str()
            .expect("a session")
            .to_owned();
        for domain in [
            "Page",
            "Runtime",
            "Log",
            "Network",
            "Audits",
            "Accessibility",
        ] {
            browser.ask(&format!("{domain}.enable"), json!({}));
        }
        // They would take room from the page that paper and telephones do not take.
        browser.ask("Emulation.setScrollbarsHidden", json!({ "hidden": true }));
        Some(browser)
    }

    /// Asks the page something and gives the answer.
    ///
    /// # Panics
    /// If the browser refuses, or does not answer.
    pub fn ask(&mut self, method: &str, parameters: Value) -> Value {
        self.asked += 1;
        let id = self.asked;
        let mut question = json!({ "id": id, "method": method, "params": parameters });
        if !self.session.is_empty() {
            question["sessionId"] = json!(self.session);
        }
        let mut bytes = question.to_string().into_bytes();
        bytes.push(0);
        self.to.write_all(&bytes).expect("the browser listens");
        loop {
            let message = self.next();
            if message["id"] == json!(id) {
                assert!(message["error"].is_null(), "{method}: {}", message["error"]);
                return message["result"].clone();
            }
            self.waiting.push_back(message);
        }
    }

    fn next(&self) -> Value {
        let message = self.from.recv_timeout(PATIENCE);
        message.expect("the browser answers in time")
    }

    /// Opens a file and waits until it is there with its typefaces.
    ///
    /// # Panics
    /// If it does not load.
    pub fn open(&mut self, file: &Path) -> Loaded {
        self.waiting.clear();
        let address = format!("file://{}", file.display());
        let found = self.ask("Page.navigate", json!({ "url": address }));
        assert!(found["errorText"].is_null(), "{address}: {found}");
        let is_loaded = |message: &Value| message["method"] == "Page.loadEventFired";
        while !self.waiting.iter().any(is_loaded) {
            let message = self.next();
            self.waiting.push_back(message);
        }
        // What is asked for late would come now.
        self.value(
            "document.fonts.ready.then(() => new Promise(go => setTimeout(go, 150))).then(() => 1)",
        );
        let mut loaded = Loaded::default();
        for message in &self.waiting {
            note(message, &mut loaded);
        }
        loaded
    }

    /// The value of an expression on the page; a promise is waited for.
    ///
    /// # Panics
    /// If the expression throws.
    pub fn value(&mut self, expression: &str) -> Value {
        let answer = self.ask(
            "Runtime.evaluate",
            json!({ "expression": expression, "returnByValue": true, "awaitPromise": true }),
        );
        assert!(
            answer["exceptionDetails"].is_null(),
            "{expression}: {answer}"
        );
        answer["result"]["value"].clone()
    }

    /// Makes the page this many pixels wide and high.
    pub fn resize(&mut self, width: u32, height: u32) {
        let size = json!({
            "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false,
        });
        self.ask("Emulation.setDeviceMetricsOverride", size);
    }

    /// Shows the page on a light or dark ground, on a screen or as printed.
    pub fn show_as(&mut self, media: &str, scheme: &str) {
        let feature = json!([{ "name": "prefers-color-scheme", "value": scheme }]);
        self.ask(
            "Emulation.setEmulatedMedia",
            json!({ "media": media, "features": feature }),
        );
    }

    /// Keeps a picture of the page from its top, or a printed page, for somebody to look at.
    ///
    /// # Panics
    /// If it cannot be written.
    pub fn keep(&mut self, method: &str, parameters: Value, file: &Path) {
        let answer = self.ask(method, parameters);
        let data = answer["data"].as_str().expect("there is a picture");
        let decoded = base64::engine::general_purpose::STANDARD.decode(data);
        std::fs::write(file, decoded.expect("it is in base 64")).expect("it can be written");
    }
}

impl Drop for Browser {
    fn drop(&mut self) {
        // It is already gone if it fell over.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The messages of the browser, one after the other.
fn listen(from: File) -> Receiver<Value> {
    let (tell, told) = bounded(MESSAGES);
    let reader = std::thread::Builder::new().name("browser".to_owned());
    let started = reader.spawn(move || {
        let messages = BufReader::new(from).split(0);
        for message in messages.map_while(Result::ok) {
            let message = serde_json::from_slice(&message).unwrap_or_default();
            if tell.send(message).is_err() {
                break;
            }
        }
    });
    started.expect("a thread can be started");
    told
}

fn note(message: &Value, loaded: &mut Loaded) {
    let words = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let of = &message["params"];
    match message["method"].as_str().unwrap_or_default() {
        "Network.requestWillBeSent" => loaded.requests.push(words(&of["request"]["url"])),
        "Network.webSocketCreated" => loaded.requests.push(words(&of["url"])),
        "Runtime.consoleAPICalled" => loaded.complaints.push(of["args"].to_string()),
        "Runtime.exceptionThrown" => loaded.complaints.push(of["exceptionDetails"].to_string()),
        "Log.entryAdded" => loaded.complaints.push(of["entry"].to_string()),
        "Audits.issueAdded" => loaded.complaints.push(of["issue"].to_string()),
        _ => {}
    }
}
